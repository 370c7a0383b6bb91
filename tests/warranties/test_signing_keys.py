"""Keys: made once, rotated, taken from an authority; never readable by others; a toy signs nothing real."""

import stat
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from django.core.checks import run_checks
from django.core.management import CommandError, call_command
from django.db import connection

from contractor.accounts.models import Company
from contractor.warranties import signing_keys
from contractor.warranties.distrust_errors import DistrustedFromAhead, SigningKeyDistrusted, SigningKeyUnknown
from contractor.warranties.errors import (
    KeyUnreadable,
    NoSigningKey,
    SigningKeyExpired,
    SigningKeyThere,
    SigningKeyUnfit,
)
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.signing_keys import (
    anchors,
    current_key,
    distrust_key,
    distrusted,
    fingerprint_of,
    import_key,
    make_key,
    stored_key,
)
from tests.warranties.authorities import Authority

AT = datetime(2026, 5, 4, 14, tzinfo=UTC)
COMPANY = "Harrow Creek Dry Basements LLC"


@pytest.fixture(autouse=True)
def empty_folder(settings: Any, tmp_path: Path, own_folders: None) -> Path:
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    return tmp_path / "keys"


def ids() -> list[str | None]:
    found = run_checks(tags=["security"], include_deployment_checks=True)
    return [one.id for one in found if str(one.id).startswith("warranties.")]


def test_a_new_key_stands_under_a_root_that_can_issue_nothing_else(empty_folder: Path) -> None:
    key = make_key(organisation=COMPANY, at=AT)
    key.certificate.verify_directly_issued_by(key.anchor)
    assert [fingerprint_of(one) for one in anchors()] == [key.fingerprint]
    assert stored_key() == key
    assert not key.is_development
    # RFC 5280, 4.2.1.3 and 4.2.1.9: who may sign certificates, and that nothing may be issued below.
    limits = key.anchor.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (limits.ca, limits.path_length) == (True, 0)
    assert not key.certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    use = key.certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert (use.digital_signature, use.content_commitment, use.key_cert_sign) == (True, True, False)
    # The root's private key lies nowhere: one private key in the whole folder, and it is the signing key's.
    files = [path for path in empty_folder.rglob("*") if path.is_file()]
    assert sum(path.read_bytes().count(b"PRIVATE KEY-----\n") for path in files) == 2  # its first and its last line
    assert key.private_key.public_key() == key.certificate.public_key() != key.anchor.public_key()


def test_nobody_else_may_read_what_is_written(empty_folder: Path) -> None:
    make_key(organisation=COMPANY, at=AT)
    for path in empty_folder.rglob("*"):
        if path.is_file():
            assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def test_a_key_that_is_there_is_not_made_anew_by_accident() -> None:
    key = make_key(organisation=COMPANY, at=AT)
    with pytest.raises(SigningKeyThere):
        make_key(organisation=COMPANY, at=AT)
    assert stored_key() == key
    assert anchors() == [key.anchor]


def test_rotating_keeps_every_old_root() -> None:
    first = make_key(organisation=COMPANY, at=AT)
    second = make_key(organisation=COMPANY, at=AT + timedelta(days=365), replaces=True)
    assert stored_key() == second
    assert {one.fingerprint for one in (first, second)} == {fingerprint_of(one) for one in anchors()}
    assert first.anchor != second.anchor


def test_in_development_a_key_is_made_on_first_use_and_says_what_it_is(settings: Any) -> None:
    settings.DEBUG = True
    key = current_key(organisation=COMPANY, at=AT)
    assert key.is_development
    for certificate in (key.certificate, key.anchor):
        assert "DEVELOPMENT" in certificate.subject.rfc4514_string()
    assert current_key(organisation=COMPANY, at=AT) == key
    later = current_key(organisation=COMPANY, at=datetime(2031, 1, 1, tzinfo=UTC))
    assert later != key
    settings.DEBUG = False
    with pytest.raises(NoSigningKey):
        current_key(organisation=COMPANY, at=AT)


def test_two_processes_that_begin_at_once_use_the_same_development_key(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.DEBUG = True
    first = current_key(organisation=COMPANY, at=AT)
    # The second one looked before the first had written.
    looks = iter([None, first])
    monkeypatch.setattr(signing_keys, "stored_key", lambda: next(looks))
    assert current_key(organisation=COMPANY, at=AT) == first
    assert anchors() == [first.anchor]


def test_in_production_nothing_is_signed_without_a_key_of_its_own() -> None:
    with pytest.raises(NoSigningKey, match="signing_key make"):
        current_key(organisation=COMPANY, at=AT)


def test_a_key_that_has_run_out_signs_no_more() -> None:
    key = make_key(organisation=COMPANY, at=AT)
    last = key.certificate.not_valid_after_utc
    assert current_key(organisation=COMPANY, at=last) == key
    with pytest.raises(SigningKeyExpired, match=f"{last:%B}"):
        current_key(organisation=COMPANY, at=last + timedelta(seconds=1))


@pytest.mark.parametrize("content", [b"", b"no key", b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"])
def test_a_broken_key_file_is_told_as_such(empty_folder: Path, content: bytes) -> None:
    empty_folder.mkdir()
    (empty_folder / "current.pem").write_bytes(content)
    with pytest.raises(KeyUnreadable):
        current_key(organisation=COMPANY, at=AT)
    assert ids() == ["warranties.E001"]


def test_a_key_of_an_authority_is_known_by_itself_and_not_by_the_authority() -> None:
    authority = Authority()
    own = make_key(organisation=COMPANY, at=AT)
    key = import_key(content=authority.parcel(COMPANY), passphrase="open sesame", at=AT)
    assert stored_key() == key
    assert key.chain == (authority.certificate,)
    assert key.anchor == key.certificate
    assert {fingerprint_of(one) for one in anchors()} == {own.fingerprint, key.fingerprint}
    assert authority.certificate not in anchors()


def test_a_file_that_cannot_sign_is_refused_and_the_present_key_stays() -> None:
    authority = Authority()
    present = make_key(organisation=COMPANY, at=AT)
    with pytest.raises(KeyUnreadable, match="passphrase"):
        import_key(content=authority.parcel(COMPANY), passphrase="something else", at=AT)
    with pytest.raises(KeyUnreadable):
        import_key(content=b"%PDF-1.7", passphrase="", at=AT)
    with pytest.raises(SigningKeyUnfit, match="signatures"):
        import_key(content=authority.parcel(COMPANY, use="encrypt"), passphrase="open sesame", at=AT)
    gone = datetime(2026, 3, 1, tzinfo=UTC)
    with pytest.raises(SigningKeyExpired):
        import_key(content=authority.parcel(COMPANY, ends=gone), passphrase="open sesame", at=AT)
    assert stored_key() == present
    assert anchors() == [present.anchor]


def test_the_deployment_check_refuses_a_site_that_cannot_sign(settings: Any, empty_folder: Path) -> None:
    assert ids() == ["warranties.E001"]
    settings.DEBUG = True
    assert ids() == []
    now = datetime.now(tz=UTC)  # noqa: TID251
    make_key(organisation=COMPANY, at=now, is_development=True)
    settings.DEBUG = False
    assert ids() == ["warranties.E002"]
    make_key(organisation=COMPANY, at=now, replaces=True)
    assert ids() == []
    (empty_folder / "current.pem").chmod(0o640)
    assert ids() == ["warranties.E003"]
    make_key(organisation=COMPANY, at=now - timedelta(days=365 * 3 - 30), replaces=True)
    assert ids() == ["warranties.W001"]
    make_key(organisation=COMPANY, at=now - timedelta(days=365 * 3 + 1), replaces=True)
    assert ids() == ["warranties.E004"]


def run(*words: str) -> str:
    told = StringIO()
    call_command("signing_key", *words, stdout=told)
    return told.getvalue()


def test_the_command_makes_rotates_imports_and_shows(
    company: Company, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "There is no signing key" in run("show")
    with pytest.raises(CommandError, match="signing_key make"):
        run("rotate")
    made = run("make")
    first = stored_key()
    assert first is not None
    assert f"O={company.legal_name}" in made
    assert first.fingerprint in made
    assert "Back up" in made
    with pytest.raises(CommandError, match="rotate"):
        run("make")
    run("rotate")
    second = stored_key()
    assert second is not None
    assert second != first
    parcel = tmp_path / "key.p12"
    parcel.write_bytes(Authority().parcel(COMPANY, ends=datetime(date.max.year, 1, 1, tzinfo=UTC)))
    with pytest.raises(CommandError, match="can't be opened"):
        run("import", str(tmp_path / "nothing.p12"))
    monkeypatch.setenv("SIGNING_KEY_PASSPHRASE", "open sesame")
    run("import", str(parcel))
    third = stored_key()
    assert third is not None
    shown = run("show")
    for key in (first, second, third):
        assert key.fingerprint in shown
    assert shown.count("(present)") == 1
    assert f"{third.fingerprint} (present)" in shown
    assert "PRIVATE" not in shown


def test_a_toy_gives_way_to_the_first_real_key(company: Company) -> None:
    make_key(organisation=COMPANY, at=AT, is_development=True)
    run("make")
    key = stored_key()
    assert key is not None
    assert not key.is_development


def test_no_key_is_made_without_a_name_to_bear(db: None) -> None:
    with pytest.raises(CommandError, match="--organisation"):
        run("make")
    assert "O=Harrow Creek" in run("make", "--organisation", "Harrow Creek")


def test_no_table_has_a_place_for_a_key(company: Company) -> None:
    make_key(organisation=COMPANY, at=AT)
    with connection.cursor() as cursor:
        columns = [
            column.name
            for table in connection.introspection.table_names(cursor)
            for column in connection.introspection.get_table_description(cursor, table)
        ]
    assert [name for name in columns if "private" in name or "pem" in name] == []


# ---- a key that leaked ----

TODAY = date(2026, 5, 4)


def test_a_leaked_key_signs_nothing_more_but_stays_known() -> None:
    key = make_key(organisation=COMPANY, at=AT)
    assert distrusted() == {}
    whole = distrust_key(fingerprint=key.fingerprint, from_on=date(2026, 5, 1), today=TODAY)
    assert whole == key.fingerprint
    assert distrusted() == {key.fingerprint: date(2026, 5, 1)}
    assert anchors() == [key.anchor]
    with pytest.raises(SigningKeyDistrusted, match="signing_key rotate"):
        current_key(organisation=COMPANY, at=AT)
    second = make_key(organisation=COMPANY, at=AT, replaces=True)
    assert current_key(organisation=COMPANY, at=AT) == second


def test_the_later_word_on_the_day_counts_and_its_file_is_closed_to_others(empty_folder: Path) -> None:
    key = make_key(organisation=COMPANY, at=AT)
    for day in (date(2026, 5, 1), date(2026, 4, 2)):
        distrust_key(fingerprint=key.fingerprint, from_on=day, today=TODAY)
    assert distrusted() == {key.fingerprint: date(2026, 4, 2)}
    [path] = (empty_folder / "distrusted").iterdir()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    # A day that nobody can read means: never trusted.
    path.write_text("some day", encoding="ascii")
    assert distrusted() == {key.fingerprint: date.min}


def test_the_beginning_of_a_fingerprint_names_a_key_and_too_little_of_it_none() -> None:
    key = make_key(organisation=COMPANY, at=AT)
    shown = " ".join(key.fingerprint[place : place + 4] for place in range(0, 16, 4)).upper()
    assert distrust_key(fingerprint=shown, from_on=TODAY, today=TODAY) == key.fingerprint
    for typed in (key.fingerprint[:15], "f" * 64, ""):
        with pytest.raises(SigningKeyUnknown, match="signing_key show"):
            distrust_key(fingerprint=typed, from_on=TODAY, today=TODAY)
    with pytest.raises(DistrustedFromAhead, match="has not come yet"):
        distrust_key(fingerprint=key.fingerprint, from_on=TODAY + timedelta(days=1), today=TODAY)


def test_the_deployment_check_refuses_a_key_that_is_not_trusted() -> None:
    now = datetime.now(tz=UTC)  # noqa: TID251
    key = make_key(organisation=COMPANY, at=now)
    distrust_key(fingerprint=key.fingerprint, from_on=date(2026, 5, 1), today=TODAY)
    assert ids() == ["warranties.E005"]
    make_key(organisation=COMPANY, at=now, replaces=True)
    assert ids() == []


def test_the_command_distrusts_and_says_what_to_do_next(company: Company) -> None:
    run("make")
    key = stored_key()
    assert key is not None
    told = run("distrust", key.fingerprint[:16], "--from", "2026-05-01")
    assert f"Not trusted from 2026-05-01 on: {fingerprint(key.fingerprint)}" in told
    assert "signing_key rotate" in told
    assert "No certificate on record was signed with it since" in told
    run("rotate")
    assert f"{key.fingerprint} (not trusted from 2026-05-01 on)" in run("show")
    assert "signing_key rotate" not in run("distrust", key.fingerprint[:16], "--from", "2026-04-01")
    with pytest.raises(CommandError, match="No key of this installation"):
        run("distrust", "0" * 16, "--from", "2026-05-01")
    with pytest.raises(CommandError, match="--from"):
        run("distrust", key.fingerprint, "--from", "lately")
