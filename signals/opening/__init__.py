"""The opening check: walk the track before opening, leave with a dated record and a verdict.

The engine is plain asyncio and knows no screen. A terminal, a page and a test drive it alike:

    async with floor_of(venue, make_link, post="desk") as floor:
        walk = Walk(venue, floor, Book(data / "opening"), by="Mika Sandbrook")
        refusals = await walk.begin()             # sentences, where it may not begin
        while isinstance(step := await walk.ask(), Question):
            found = await walk.say(Said(lamps=["red"]))   # only `found` tells what was expected
        judged = walk.judgement()                 # which verdicts are possible, and why not others
        signed = await walk.sign(Verdict.OPEN, by="Mika Sandbrook", witness="")
        await walk.rest()                         # gives the lamps back; a later `begin` goes on here

What a person is asked never tells what should be seen; where sensors see everything nobody is asked.
Every answer is on the disk before the next question. `rows` are what is walked, `sheet` one day's
walk, `book` what is kept, `causes` and `auto` the cause-and-effect run, `document` what is printed.
"""
