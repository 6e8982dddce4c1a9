"""Questions in the open interchange standard, 1EdTech QTI 2.1, 2.2 and 3.0: items and packages.

Source: 1EdTech, Question and Test Interoperability, ASI information models 2.1 (2012), 2.2 (2015)
and 3.0 (2022). The three are read as one: names without prefix and `qti-`, in camel case.
"""
