"""Deliberate faults of the door: each must be caught by its tests, or these prove nothing.

    python -m tests.tablet.mutants [words of a fault's name]

Runs in a copy of the project and prints each fault as caught or as SURVIVED. ``test_mutants.py`` holds every fault to a
place that is still there.
"""

import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TABLET = "contractor/tablet"


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: in ``file`` the text ``old``, which stands there once, becomes ``new``; ``test`` has to fail."""

    name: str
    file: str
    old: str
    new: str
    test: str


MUTANTS = (
    Mutant(
        "acknowledges before the commit",
        f"{TABLET}/actions/door.py",
        "is_vouched=is_vouched).keep()\n    return",
        "is_vouched=is_vouched).keep()\n        return",
        "test_door.py::test_a_receipt_is_read_back_after_the_commit",
    ),
    Mutant(
        "gives a receipt of what came instead of what is there",
        f"{TABLET}/actions/door.py",
        'stored = hashlib.sha256(row.raw.encode()).hexdigest() if row else ""',
        "stored = item.sha256",
        "test_door.py::test_a_receipt_is_read_back_after_the_commit",
    ),
    Mutant(
        "has no idempotence key",
        f"{TABLET}/actions/door.py",
        "        id=event.id,\n        raw=",
        "        id=__import__('uuid').uuid4(),\n        raw=",
        "test_door.py::test_the_same_again_is_a_duplicate_with_the_same_receipt",
    ),
    Mutant(
        "does not check the announced hash",
        f"{TABLET}/actions/door.py",
        "if item.announced_sha256 != item.sha256:",
        "if not item.sha256:",
        "test_door.py::test_a_text_that_changed_on_its_way_is_set_aside_until_it_comes_whole",
    ),
    Mutant(
        "takes other words under a known id",
        f"{TABLET}/actions/door.py",
        "and written[row.pk][0] != row.sha256",
        "and not written[row.pk]",
        "test_door.py::test_the_same_id_with_other_words_is_an_alarm_and_changes_nothing",
    ),
    Mutant(
        "drops what it sets aside",
        f"{TABLET}/actions/door.py",
        "        if not self.reasons:\n            return",
        "        if self.reasons:\n            return",
        "test_door.py::test_whatever_it_is_it_is_kept_whole_with_a_sentence",
    ),
    Mutant(
        "takes a batch as a whole or not at all",
        f"{TABLET}/actions/door.py",
        "        self._read()\n",
        "        self._read()\n        self.rows = {} if self.reasons else self.rows\n"
        "        self.reasons |= {n: Unreadable('no', 'No.') for n in range(len(self.came)) if n not in self.rows}\n",
        "test_door.py::test_a_partial_batch_keeps_its_good_part",
    ),
    Mutant(
        "takes what its author was never sent to",
        f"{TABLET}/known.py",
        "if flags and not is_vouched:",
        "if False:",
        "test_door.py::test_a_visit_that_was_never_given_to_its_author_is_foreign",
    ),
    Mutant(
        "locks events before their visit",
        f"{TABLET}/actions/door.py",
        "        _hold({row.appointment_id for row in self.rows.values()}, self.at)\n",
        "        TabletVisit.objects.bulk_create([TabletVisit(appointment_id=row.appointment_id, last_event_at=self.at)"
        " for row in self.rows.values()], ignore_conflicts=True)\n",
        "test_server_troubles.py::test_the_door_and_the_making_of_a_check_up_do_not_wait_for_each_other_in_a_circle",
    ),
    Mutant(
        "ignores a photo's offset",
        f"{TABLET}/actions/photos.py",
        "if offset != state.offset or offset",
        "if offset",
        "test_door_faults.py::test_a_chunk_that_does_not_follow_the_last_one_changes_nothing_and_hears_where_to_go_on",
    ),
    Mutant(
        "does not check a photo's hash",
        f"{TABLET}/actions/photos.py",
        "    if stored != sha256:",
        "    if not stored:",
        "test_pages.py::test_a_photo_comes_in_by_its_address",
    ),
    Mutant(
        "does not note the last photo",
        f"{TABLET}/actions/photos.py",
        "    _note_whole(photo_id, at)\n    return",
        "    return",
        "test_apply.py::test_it_waits_for_the_photos",
    ),
    Mutant(
        "leaves the rest of a longer try behind a chunk",
        f"{TABLET}/photo_store.py",
        "        file.truncate()\n",
        "",
        "test_door_faults.py::test_what_an_unfinished_try_left_behind_a_chunk_is_cut_off",
    ),
    Mutant(
        "finishes without the photos",
        f"{TABLET}/rules/finish.py",
        "    wanted += [name for name, sha256 in named_photos(finish) if photos.get(name) != sha256]\n",
        "",
        "test_apply.py::test_it_waits_for_the_photos",
    ),
    Mutant(
        "tells no new epoch",
        f"{TABLET}/actions/epoch.py",
        "known = ServerEpoch.objects.first()",
        "known = ServerEpoch.objects.last()",
        "test_door.py::test_a_new_life_of_the_database_has_another_number",
    ),
    Mutant(
        "takes a closed tablet's key",
        f"{TABLET}/access.py",
        " or found.device.revoked_at is not None",
        "",
        "test_door.py::test_a_key_is_no_good_on_a_closed_tablet_even_where_it_was_not_ended",
    ),
    Mutant(
        "gives a closed tablet its old key back",
        f"{TABLET}/actions/devices.py",
        'update(ended_at=at, ended_because="The office closed the tablet.")',
        "count()",
        "test_door.py::test_a_closed_tablet_sends_nothing_and_gets_no_key_until_it_is_allowed_again",
    ),
    Mutant(
        "leaves the sign-in on a closed tablet open",
        f"{TABLET}/actions/devices.py",
        "        _end_sign_ins(device_id, at)\n",
        "",
        "test_sign_ins.py::test_closing_a_tablet_ends_the_sign_in_on_it_and_no_other",
    ),
    Mutant(
        "gives rounds to a tablet that nobody registered",
        f"{TABLET}/access.py",
        "    if device is None:\n        raise NotRegistered\n",
        "    if device is None:\n        return\n",
        "test_sign_ins.py::test_a_sign_in_reads_no_rounds_on_a_tablet_that_the_office_does_not_know",
    ),
    Mutant(
        "remembers only the last tablet of a sign-in",
        f"{TABLET}/access.py",
        "[*used_on, str(device_id)]",
        "[str(device_id)]",
        "test_sign_ins.py::test_a_sign_in_that_calls_itself_another_tablet_still_ends_with_the_first",
    ),
    Mutant(
        "lets every tablet in at once",
        f"{TABLET}/pressure.py",
        "    if not PLACES.acquire(blocking=False):\n        raise Busy(AGAIN_SECONDS)\n",
        "    PLACES.acquire(blocking=False)\n",
        "test_server_troubles.py::test_more_tablets_than_there_are_places_are_sent_away_at_once_and_told_when_to_come_again",
    ),
    Mutant(
        "takes the key of somebody who left",
        f"{TABLET}/access.py",
        "or not found.person.is_active ",
        "",
        "test_door.py::test_somebody_who_left_hands_in_nothing_with_their_key",
    ),
    Mutant(
        "asks no token of a signed-in page",
        f"{TABLET}/access.py",
        "    return guard.process_view(request, _guarded, (), {})",
        "    return None",
        "test_door.py::test_with_a_session_the_token_is_asked_for",
    ),
    Mutant(
        "tells anybody what others said",
        f"{TABLET}/told.py",
        "if row.device_id != device_id] if may_read else []",
        "if row.device_id != device_id]",
        "test_door.py::test_another_person_hands_in_what_somebody_typed_and_reads_nothing_of_it",
    ),
    Mutant(
        "imports no photos",
        f"{TABLET}/actions/importing.py",
        "    return taken.is_done",
        "    return not taken.is_done",
        "test_pages.py::test_a_saved_file_goes_through_the_same_door",
    ),
    Mutant(
        "lets one visit stop the sweeper",
        f"{TABLET}/actions/apply.py",
        "                run.stop(type(problem).__name__)",
        "                raise",
        "test_server_troubles.py::test_an_error_of_the_program_at_one_visit_is_seen_and_holds_up_no_other",
    ),
    Mutant(
        "writes over a finished check-up",
        f"{TABLET}/actions/apply.py",
        "        if self.facts.is_finished:\n            self._refuse_late()\n            return\n",
        "",
        "test_apply.py::test_what_comes_after_the_finishing_changes_nothing_and_is_seen",
    ),
)


def main(words: list[str]) -> int:
    chosen = [one for one in MUTANTS if all(word in one.name for word in words)]
    survived = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("contractor", "templates", "static", "fixtures", "tests"):
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in ("manage.py", "pyproject.toml"):
            shutil.copy(ROOT / name, copy)
        for mutant in chosen:
            told = _fate(mutant, copy)
            survived += told != "caught"
            print(f"{told:9} {mutant.name}", flush=True)  # noqa: T201 - a command
    return survived


def _fate(mutant: Mutant, copy: Path) -> str:
    path = copy / mutant.file
    whole = path.read_text()
    path.write_text(whole.replace(mutant.old, mutant.new))
    words = ["-q", "-x", "-n0", "--no-migrations", "-p", "no:cacheprovider", f"tests/tablet/{mutant.test}"]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words], cwd=copy, capture_output=True, text=True, check=False
    )
    path.write_text(whole)
    if done.returncode == 0:
        return "skipped" if " passed" not in done.stdout else "SURVIVED"
    return "caught" if done.returncode == 1 else f"not run: {done.stdout[-300:]}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
