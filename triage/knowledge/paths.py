"""Where knowledge and cases lie: inside the installed package, or in a checkout beside it."""

from __future__ import annotations

from pathlib import Path

from triage.errors import KnowledgeError, Problem

_PACKAGE = Path(__file__).resolve().parents[1]


def _find(name: str) -> Path:
    installed = _PACKAGE / "data" / name
    checkout = _PACKAGE.parent / name
    for path in (installed, checkout):
        if path.is_dir():
            return path
    raise KnowledgeError(
        [
            Problem(
                file=str(installed),
                line=0,
                what=f"the folder of {name} is missing",
                why=f"it is neither in the installed package nor beside it ({checkout})",
                mend="install again with: pip install --force-reinstall .",
            )
        ]
    )


def knowledge_dir() -> Path:
    """Folder of the knowledge files (findings, causes, tubes, amplifiers).

    Raises
    ------
    KnowledgeError : the folder is in neither place.
    """
    return _find("knowledge")


def cases_dir() -> Path:
    """Folder of the worked cases.

    Raises
    ------
    KnowledgeError : the folder is in neither place.
    """
    return _find("cases")
