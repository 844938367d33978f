"""Pure decisions: no clock, dice, disk, network, logging or asyncio in here."""
