"""The controller process: the asyncio shell around the pure core (docs/controller.md)."""
