// The few formulas needed underground, as contractor/engineering has them (pit.py, battery_checks.py): SI in, SI out.

const LOAD_TEST_F = [0, 10, 20, 30, 40, 50, 60, 70];
const LOAD_TEST_V = [8.5, 8.7, 8.9, 9.1, 9.3, 9.4, 9.5, 9.6];

function fahrenheit(temperatureC) {
  return temperatureC * 1.8 + 32;
}

/** To the nearest whole number, a half to the even one. */
function roundHalfEven(value) {
  const below = Math.floor(value);
  const rest = value - below;
  if (rest !== 0.5) return Math.round(value);
  return below % 2 === 0 ? below : below + 1;
}

function between(x, knots, values) {
  if (x <= knots[0]) return values[0];
  const last = knots.length - 1;
  if (x >= knots[last]) return values[last];
  const left = knots.findLastIndex((knot) => knot <= x);
  const slope = (values[left + 1] - values[left]) / (knots[left + 1] - knots[left]);
  return slope * (x - knots[left]) + values[left];
}

/** Least voltage a good 12 V lead-acid battery holds for 15 s at half its cold-cranking current. */
export function loadTestMinimumV(temperatureC) {
  return roundHalfEven(between(fahrenheit(temperatureC), LOAD_TEST_F, LOAD_TEST_V) * 1e6) / 1e6;
}

/** Specific gravity of the acid as it would read at 80 °F (26.7 °C). */
export function gravityAt27C(gravity, temperatureC) {
  return gravity + 0.0004 * (fahrenheit(temperatureC) - 80);
}

/** Inflow in m³/s from how fast the water rises in the pit while no pump runs: π/4 · D² · rise / time. */
export function inflowFromRise(diameterM, riseM, seconds) {
  return ((Math.PI / 4) * (diameterM * diameterM) * riseM) / seconds;
}

/** What a pump moves in m³/s, from how fast it draws the pit down while water keeps coming in. */
export function pumpFlowFromDrawdown(diameterM, fallM, seconds, inflowM3S) {
  return inflowFromRise(diameterM, fallM, seconds) + inflowM3S;
}
