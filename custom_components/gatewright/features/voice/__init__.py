"""Voice and language models: what can be said to the shop, and its answers.

`exposed` is what an assistant may see, `answers` has the answers, `sentences` and
`hints` register what Home Assistant listens to.
"""
