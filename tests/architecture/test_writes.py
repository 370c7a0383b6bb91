"""Only actions write: every other module reads."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2] / "contractor"

WRITING_METHODS = {
    "create",
    "get_or_create",
    "update_or_create",
    "bulk_create",
    "bulk_update",
    "save",
    "delete",
    "acreate",
    "asave",
    "adelete",
}
# QuerySet.update is told from dict.update and hash.update by its arguments: it takes only keywords. A row's save is
# told from a picture's or a file's, which names where to save to, because it takes no position arguments.
# core/audit.py is the audit trail's own action.
MAY_WRITE = {"core/audit.py"}


def writes_in(source: str) -> list[tuple[int, str]]:
    """Line and name of every call that writes to a table."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        name = node.func.attr
        if name == "save" and node.args:
            continue
        if name in WRITING_METHODS or (name == "update" and node.keywords and not node.args):
            found.append((node.lineno, name))
    return found


def is_action(path: Path) -> bool:
    return path.name == "actions.py" or path.parent.name == "actions"


MODULES = sorted(path for path in ROOT.rglob("*.py") if "migrations" not in path.parts)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_only_actions_write(path: Path) -> None:
    if is_action(path) or str(path.relative_to(ROOT)) in MAY_WRITE:
        return
    written = writes_in(path.read_text())
    assert written == [], f"{path.relative_to(ROOT)} writes at {written}; move it into an action."


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("Person.objects.create(name='x')", [(1, "create")]),
        ("person.save()", [(1, "save")]),
        ("picture.save(memory, 'JPEG')", []),
        ("rows.update(state='sent')", [(1, "update")]),
        ("words.update({'a': 1})", []),
        ("digest.update(data)", []),
        ("Person.objects.filter(name='x')", []),
    ],
)
def test_a_write_is_recognised(source: str, expected: list[tuple[int, str]]) -> None:
    assert writes_in(source) == expected
