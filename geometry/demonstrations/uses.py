"""What a material of a demonstration has to be."""

from __future__ import annotations

from collections.abc import Mapping

from ..case.keys import near
from ..errors import CaseError
from ..units import shown


def require_use(name: str, where: str, use: str, what: str, uses: Mapping[str, str]) -> None:
    """Refuse a material that is not of a use.

    Parameters
    ----------
    name, where : str
        The material, and where the case names it.
    use, what : str
        "magnet", and in words "a magnet".
    uses : mapping of str to str
        Built-in materials: name → use.

    Raises
    ------
    CaseError
        One sentence with those that fit.
    """
    fitting = [n for n, u in uses.items() if u == use and n != "air"]
    if name in fitting:
        return
    known = f", which is not {what}" if name in uses else near(name, fitting)
    raise CaseError(f"{where}: received {shown(name)}{known}; write {what}: {', '.join(fitting)}")
