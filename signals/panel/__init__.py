"""The page for tablet, phone and desk, and the drivers' board: signals in words, calls by touch.

It decides nothing. Each signed-in post has a broker connection with its own credential, so the access
list and the controller judge its calls as they judge any other device's; the page imports the contract
and the journal's reader, and nothing of the controller. Not an emergency stop: what it shows when the
link is gone is NO LINK: FLAG AND RADIO, and no call is kept for later.
"""
