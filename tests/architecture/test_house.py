"""The house as it is laid out: top level, layers of tables, sizes, and what may not stand in a template."""

import ast
import re
import subprocess
from pathlib import Path

import pytest
import tinycss2
from django.apps import apps
from django.db import models

ROOT = Path(__file__).resolve().parents[2]
LAYERS = (
    "portal",
    "office",
    "tablet",
    "warranties",
    "plans",
    "estimates",
    "checkups",
    "visits",
    "systems",
    "notices",
    "properties",
    "accounts",
    "core",
)
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "manage.py",
    "pyproject.toml",
    "contractor",
    "templates",
    "static",
    "tests",
    "fixtures",
}
CORE = {
    "__init__",
    "apps",
    "audit",
    "checks",
    "clock",
    "errors",
    "htmx",
    "models",
    "pages",
    "renewal",
    "units",
    "management",
    "migrations",
    "templatetags",
}
FORBIDDEN_NAMES = {"utils", "helpers", "common", "misc", "lib"}


def own_files(pattern: str) -> list[Path]:
    """Files of the project that are tracked or about to be, matching a pattern."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", pattern],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    return [ROOT / name for name in listed if (ROOT / name).exists()]


def relative(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_the_visible_top_level_is_the_agreed_one() -> None:
    visible = {relative(path).split("/")[0] for path in own_files("*")}
    assert {name for name in visible if not name.startswith(".")} == TOP_LEVEL


def test_core_is_a_closed_list() -> None:
    present = {path.stem if path.is_file() else path.name for path in (ROOT / "contractor/core").iterdir()}
    assert present - {"__pycache__"} == CORE


def own_foreign_keys() -> list[tuple[type[models.Model], models.ForeignKey]]:  # type: ignore[type-arg]
    return [
        (model, field)
        for model in apps.get_models()
        if model.__module__.startswith("contractor.")
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
    ]


def test_foreign_keys_point_down_or_stay_in_their_room() -> None:
    upward = [
        f"{model.__name__}.{field.name}"
        for model, field in own_foreign_keys()
        if LAYERS.index(field.related_model._meta.app_label) < LAYERS.index(model._meta.app_label)
    ]
    assert len(own_foreign_keys()) > 40
    assert upward == []


def test_nothing_of_record_is_deleted_along_with_something_else() -> None:
    assert [
        f"{model.__name__}.{field.name}"
        for model, field in own_foreign_keys()
        if field.remote_field.on_delete is not models.PROTECT
    ] == []


def test_portal_and_office_have_no_tables() -> None:
    assert [m.__name__ for m in apps.get_models() if m._meta.app_label in {"portal", "office"}] == []


def test_no_model_overrides_save() -> None:
    assert [m.__name__ for m in apps.get_models() if "save" in vars(m) and m.__module__.startswith("contractor")] == []


def test_init_files_are_empty() -> None:
    assert [relative(p) for p in own_files("contractor/**__init__.py") if p.read_text().strip()] == []


def test_no_drawer_modules() -> None:
    assert [relative(p) for p in own_files("contractor/*.py") if p.stem in FORBIDDEN_NAMES] == []


def test_migrations_have_names() -> None:
    found = own_files("contractor/*/migrations/0*.py")
    assert found
    assert [relative(p) for p in found if "_auto_" in p.name] == []


@pytest.mark.parametrize(
    ("pattern", "most_lines"),
    [("contractor/*.py", 450), ("templates/*.html", 250), ("static/js/*.js", 200)],
)
def test_files_stay_small_enough_for_one_thought(pattern: str, most_lines: int) -> None:
    large = {
        relative(p): len(p.read_text().splitlines())
        for p in own_files(pattern)
        if "/migrations/" not in relative(p) and len(p.read_text().splitlines()) > most_lines
    }
    assert large == {}


def test_functions_stay_small_enough_for_one_thought() -> None:
    large = []
    for path in own_files("contractor/*.py"):
        if "/migrations/" in relative(path):
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef):
                body = node.body
                has_docstring = isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant)
                code = body[1:] if has_docstring else body
                if code and (code[-1].end_lineno or 0) - code[0].lineno + 1 > 40:
                    large.append(f"{relative(path)}:{node.name}")
    assert large == []


INLINE = re.compile(r"<script(?![^>]*\bsrc=)[^>]*>|<style\b|\sstyle=|\son(?:click|change|submit|load|input)=", re.I)
ABROAD = re.compile(r"""(?:src|href|action)=["'](?:https?:)?//""", re.I)


@pytest.mark.parametrize("path", own_files("templates/*.html"), ids=relative)
def test_pages_hold_no_inline_code_and_fetch_nothing_from_abroad(path: Path) -> None:
    text = path.read_text()
    is_mail = "notices/" in relative(path) or path.name.startswith("base_mail")
    assert is_mail or not INLINE.search(text)
    assert not ABROAD.search(text)


def lit_by_hovering(rules: list[tinycss2.ast.Node]) -> list[int]:
    """Lines of the rules that a finger would set off as well: it leaves what it touched lit up after it is gone."""
    lines = []
    for rule in rules:
        if rule.type == "qualified-rule" and ":hover" in tinycss2.serialize(rule.prelude):
            lines.append(rule.source_line)
        elif rule.type == "at-rule" and rule.content and "hover: hover" not in tinycss2.serialize(rule.prelude):
            lines += lit_by_hovering(tinycss2.parse_blocks_contents(rule.content))
    return lines


@pytest.mark.parametrize("path", own_files("static/css/*.css"), ids=relative)
def test_only_what_can_hover_lights_up(path: Path) -> None:
    assert lit_by_hovering(tinycss2.parse_stylesheet(path.read_text())) == []


def test_vendored_libraries_carry_licence_and_version() -> None:
    folders = [folder for folder in (ROOT / "static/vendor").iterdir() if folder.is_dir()]
    assert folders
    for folder in folders:
        names = {path.name.split(".")[0] for path in folder.iterdir()}
        assert "LICENSE" in names, folder.name
        assert "VERSION" in names, folder.name
