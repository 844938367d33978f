"""The model answer: a marshal who looks, decides and calls by what can be seen from his post.

A policy, not a clock: it knows no drill, only signs and what each asks for. It sees what `Eyes` give,
needs a moment to notice and another to decide, calls one thing at a time, keeps a hold as long as its
cause is there, and lifts it soon after. `Manner` is how it does so; a typical mistake is another manner.
"""

from sim.drill.model.manner import Manner
from sim.drill.model.marshal import Marshal

__all__ = ["Manner", "Marshal"]
