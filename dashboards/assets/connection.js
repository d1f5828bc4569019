// A server that no longer answers, or a session that ended, must not look like an empty screen.
(() => {
  const ask = window.fetch;
  let shown = null;
  const tell = (text, link) => {
    shown ??= document.body.insertBefore(document.createElement('div'), document.body.firstChild);
    shown.className = 'lost';
    shown.setAttribute('role', 'alert');
    shown.textContent = text;
    if (link) {
      const way = document.createElement('a');
      way.href = '/';
      way.textContent = link;
      shown.append(' ', way);
    }
  };
  const untell = () => { shown?.remove(); shown = null; };
  window.fetch = async (what, how) => {
    const isOurs = String(what?.url ?? what).includes('/_dash-');
    let answer;
    try {
      answer = await ask(what, how);
    } catch (error) {
      if (isOurs && error.name !== 'AbortError') {
        tell('The study’s server does not answer. Nothing you do here is kept until it does.');
      }
      throw error;
    }
    if (!isOurs) return answer;
    if (answer.status === 401) tell('You are no longer let in.', 'Start again');
    else if (answer.status >= 400) tell('That was refused, or went wrong; nothing was changed.', 'Start again');
    else untell();
    return answer;
  };
})();
