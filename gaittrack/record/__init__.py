"""The registry of facts: what is recorded of people, visits, legs, braces and conditions.

One line each in ``facts.csv``, closed lists in ``lists.toml``, what they are called in
``words/en/record.toml``. Storage, forms, files, words, corrections, dictionary, export and
the small-group check follow from the line.
"""
