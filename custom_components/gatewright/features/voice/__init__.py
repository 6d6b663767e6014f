"""What can be said to the shop and what it answers, by voice or through a model.

`names` introduces new entities to the hub's assistant, `view` is what an assistant may
see, `answers` are the words, `sentences` has the hub listen to ours.
"""
