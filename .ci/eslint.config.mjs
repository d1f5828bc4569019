// How .ci/run looks through the scripts of the screens; plotly comes from elsewhere and is left out.
import js from '@eslint/js';
import globals from 'globals';

export default [
  { ignores: ['**/*.min.js'] },
  js.configs.recommended,
  {
    files: ['dashboards/assets/*.js'],
    languageOptions: { ecmaVersion: 2022, sourceType: 'script', globals: globals.browser },
    linterOptions: { reportUnusedDisableDirectives: 'error' },
    rules: {
      'no-undef': 'error',
      'no-unused-vars': 'error',
      'no-implicit-globals': 'error',
      'prefer-const': 'error',
      'no-var': 'error',
      eqeqeq: 'error',
    },
  },
];
