"""The order of the work: which room is called after which, a module for each piece of work.

A module and the rooms it needs are loaded when one of its functions is first asked for (`__init__.pyi` lists them), so
that laying rows doesn't wait for reports and seasons.
"""

import lazy_loader as _lazy

__getattr__, __dir__, __all__ = _lazy.attach_stub(__name__, __file__)
