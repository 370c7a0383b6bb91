"""The discharge line as a whole: will it freeze shut, and does the water move neither too slowly nor too fast."""

from typing import Final

from contractor.engineering.errors import BadInput
from contractor.engineering.frost import Risk, RiskLevel, discharge_freeze_risk
from contractor.engineering.pipe_losses import FAST_M_S, SLOW_M_S
from contractor.estimates.rules.facts import ON_RECORD, ClimateFacts, Given, LineFacts
from contractor.estimates.rules.pump_steps import line_inputs
from contractor.estimates.rules.results import BAD, GOOD, UNKNOWN, WATCH, Input, SystemResult
from contractor.estimates.rules.wording import Wording, entry, number, plain, step
from contractor.estimates.rules.workings import Workings

LEVEL_OF_RISK: Final = {RiskLevel.LOW: GOOD, RiskLevel.WATCH: WATCH, RiskLevel.HIGH: BAD}
SENTENCES: Final = {
    GOOD: "The discharge line is not likely to freeze.",
    WATCH: "The discharge line may freeze in a hard winter.",
    BAD: "The discharge line is likely to freeze shut in a hard winter.",
}
POINTS: Final = (
    "low points 2, no fall to the outlet 2 (not known 1), less cover than frost 2 (1 if it drains), bare pipe outside "
    "1 (0 if it drains), outlet within the snow 2, no tested relief fitting 1, less 1 when the pump runs 5 % of the "
    "winter or more"
)
NO_NORMALS: Final = (
    "Whether the discharge line may freeze is not known: enter the region's climate normals, with its frost and snow."
)
NOT_MEASURED: Final = (
    "Whether the discharge line may freeze is not known: enter how deep it lies, whether it falls to its outlet, "
    "and how high the outlet stands, on the system's as-built form."
)


def freeze_result(worked: Workings, say: Wording) -> SystemResult:
    """How likely the discharge line is to freeze shut, and why."""
    climate, line = worked.facts.climate, worked.facts.line
    if climate is None:
        return SystemResult(code="freeze", level=UNKNOWN, sentence=NO_NORMALS)
    if line.cover_m is None and line.falls_to_outlet is None and line.outlet_above_ground_m is None:
        return SystemResult(code="freeze", level=UNKNOWN, sentence=NOT_MEASURED)
    try:
        risk = _risk(worked, climate)
    except BadInput as trouble:
        said = f"{plain(trouble)} Correct it on the as-built form."
        sentence = f"Whether the discharge line may freeze is not known: {said}"
        return SystemResult(code="freeze", level=UNKNOWN, sentence=sentence)
    level, reasons = LEVEL_OF_RISK[risk.level], say.sentences(risk.reasons)
    points = step(
        "Points", POINTS, " ".join(reasons) or "nothing speaks for it", f"from 2 watch, from 4 high: {risk.level.value}"
    )
    return SystemResult(
        code="freeze",
        level=level,
        sentence=SENTENCES[level],
        reasons=reasons,
        inputs=_freeze_inputs(worked, climate, line, say),
        steps=(points,),
        cautions=say.sentences(risk.cautions),
    )


def _risk(worked: Workings, climate: ClimateFacts) -> Risk:
    full, line = worked.line, worked.facts.line
    return discharge_freeze_risk(
        frost_depth_m=climate.frost_depth_m,
        cover_m=full.cover_m.value,
        exposed_length_m=full.exposed_length_m.value,
        falls_to_outlet=line.falls_to_outlet.value if line.falls_to_outlet else None,
        sags=int(full.sags.value),
        outlet_above_ground_m=full.outlet_above_ground_m.value,
        snow_depth_m=climate.snow_depth_m,
        duty=worked.year.winter_duty if worked.year else 0.0,
        relief_fitting=line.relief_fitting,
        relief_tested=line.relief_tested is not None and line.relief_tested.value,
        insulated=full.is_insulated.value,
    )


def _freeze_inputs(worked: Workings, climate: ClimateFacts, line: LineFacts, say: Wording) -> tuple[Input, ...]:
    full, note = worked.line, f"{climate.name}: {climate.source}"
    frost = Given(value=climate.frost_depth_m, unit="m", origin=ON_RECORD, note=note)
    snow = Given(value=climate.snow_depth_m, unit="m", origin=ON_RECORD, note=note)
    falls = Input(name="Falls to its outlet", value="not known", unit="", origin=ON_RECORD)
    if line.falls_to_outlet is not None:
        falls = entry("Falls to its outlet", line.falls_to_outlet, say)
    relief = "none on record"
    if line.relief_fitting:
        tested = line.relief_tested
        relief = "there, not tested" if tested is None else "worked" if tested.value else "did not work"
    duty = worked.year.winter_duty if worked.year else 0.0
    return (
        entry("Frost in a hard winter goes down to", frost, say, held=True),
        entry("Deepest snow", snow, say, held=True),
        entry("Cover over the buried run", full.cover_m, say, held=True),
        entry("Pipe in the outside air", full.exposed_length_m, say),
        entry("Insulated", full.is_insulated, say),
        falls,
        entry("Low points that hold water", full.sags, say),
        entry("Outlet above ground", full.outlet_above_ground_m, say, held=True),
        Input(
            name="Freeze-relief fitting",
            value=relief,
            unit="",
            origin=line.relief_tested.origin if line.relief_tested else ON_RECORD,
            on=line.relief_tested.on.isoformat() if line.relief_tested and line.relief_tested.on else "",
        ),
        Input(
            name="The pump runs in winter",
            value=f"{duty:.1%} of the time",
            unit="",
            origin=worked.inflow.mean_m3_s.origin,
            note=worked.inflow.how,
        ),
    )


def line_speed_result(worked: Workings, say: Wording) -> SystemResult:
    """Whether the water in the line is too slow to carry silt or so fast that it hammers."""
    working, velocity = worked.of(worked.facts.primary), worked.velocity_m_s
    flow = working.now_flow_m3_s if working else None
    if working is None or velocity is None or flow is None:
        trouble = worked.line_trouble or worked.pit_trouble or "No primary pump is on record."
        sentence = f"How fast the water moves in the line is not known. {trouble}"
        return SystemResult(code="line_speed", level=UNKNOWN, sentence=sentence)
    speed = say.speed(velocity)
    level = GOOD
    sentence = f"The water moves at {speed} in the line: fast enough to carry silt, slow enough not to hammer."
    if flow == 0:
        level, sentence = BAD, "The primary pump can't lift the water to the line's highest point: nothing moves."
    elif velocity < SLOW_M_S:
        level = WATCH
        sentence = f"The water moves at {speed} in the line, below {say.speed(SLOW_M_S)}: silt may settle in it."
    elif velocity > FAST_M_S:
        level = WATCH
        sentence = f"The water moves at {speed}, above {say.speed(FAST_M_S)}: the line is noisy and may hammer."
    return SystemResult(
        code="line_speed",
        level=level,
        sentence=sentence,
        inputs=line_inputs(worked, say),
        steps=(
            step(
                "Speed of the water",
                "v = Q ÷ (π/4 · D²)",
                f"{number(flow, 5)} ÷ (0.785398 · {number(worked.line.bore_m.value, 5)}²)",
                f"{number(velocity)} m/s ({speed})",
            ),
        ),
        cautions=say.sentences(working.cautions),
    )
