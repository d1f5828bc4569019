"""How hard a text is to read, by published formulas.

Syllables are counted as groups of vowels: a rough count that is good enough for a mean.
"""

import re


def sentences_of(text):
    return [part for part in re.split(r"[.!?]+(?:\s|$)", text) if re.search(r"\w", part)]


def words_of(text):
    return re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", text)


def english_syllables(word):
    """Count groups of vowels; a final silent e, or es and ed after a consonant, is none."""
    word = re.sub(r"(?<=[^aeiouy])(?<!l)e$", "", word.lower())
    word = re.sub(r"(?<=[^aeiouytd])e[ds]$", "", word)
    return max(1, len(re.findall(r"[aeiouy]+", word)))


def german_syllables(word):
    return max(1, len(re.findall(r"ie|ei|au|eu|äu|aa|ee|oo|ai|[aeiouyäöü]", word.lower())))


def grade_of_english(text):
    """Return the U.S. school grade (Kincaid 1975)."""
    words = words_of(text)
    syllables = sum(english_syllables(word) for word in words)
    return 0.39 * len(words) / len(sentences_of(text)) + 11.8 * syllables / len(words) - 15.59


def grade_of_german(text):
    """Return the school grade by the first Vienna formula (Bamberger and Vanecek 1984)."""
    words = words_of(text)
    share = 100 / len(words)
    counts = [german_syllables(word) for word in words]
    return (
        0.1935 * share * sum(n >= 3 for n in counts)
        + 0.1672 * len(words) / len(sentences_of(text))
        + 0.1297 * share * sum(len(word) > 6 for word in words)
        - 0.0327 * share * sum(n == 1 for n in counts)
        - 0.875
    )


def grade(code, text):
    """Return the school grade of a text by the formula of its language."""
    return {"en": grade_of_english, "de": grade_of_german}[code](text)
