"""A name of earlier releases: the notebook ``report/questions.ipynb``, which a report never replaces, imports it."""
