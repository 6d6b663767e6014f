"""The drawing of a shop: read and written, measured, checked, and laid out.

`reading` makes a `ShopPlan` of a file and `writing` a file of a plan. `tree` reads off it
what the forms of ducts and gates store, `layout` draws that.
"""
