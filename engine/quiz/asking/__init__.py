"""One module for each kind of question: which items it can ask, and how it poses one of them."""
