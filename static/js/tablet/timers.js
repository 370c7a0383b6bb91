// Clocks of timed tests: the events say when each began, so reload, sleep and another page change nothing.
// Several may run at once; one tick a quarter of a second shows them all.

import { localIso } from "./words.js";

const EVERY_MS = 250;
// A wall clock and a steady one that differ by more than this: the clock was set, or the tablet slept.
const MOST_DRIFT_MS = 5000;

/** `timerOf(key)` gives the kept value of a clock; `record(field, value)` keeps a new one. */
export function makeClocks({ timerOf, record }) {
  const watchers = new Map();
  const begun = new Map();
  let ticking = null;

  const startedAt = (key) => {
    const value = begun.get(key)?.value || timerOf(key);
    return value?.state === "running" ? Date.parse(value.started) : null;
  };
  const elapsedOf = (key) => {
    const at = startedAt(key);
    return at === null ? null : Math.max(0, (Date.now() - at) / 1000);
  };

  function tick() {
    for (const [key, { show }] of watchers) show(elapsedOf(key));
  }

  function drifted(key) {
    const mark = begun.get(key);
    if (!mark) return false;
    return Math.abs(Date.now() - mark.wall - (performance.now() - mark.steady)) > MOST_DRIFT_MS;
  }

  return {
    watch(key, name, show) {
      watchers.set(key, { name, show });
      show(elapsedOf(key));
      ticking ??= setInterval(tick, EVERY_MS);
    },
    isRunning: (key) => startedAt(key) !== null,
    running: () => [...watchers].filter(([key]) => startedAt(key) !== null).map(([key, { name }]) => ({ key, name, elapsed: elapsedOf(key) })),
    async start(key) {
      const value = { state: "running", started: localIso(new Date()) };
      begun.set(key, { value, wall: Date.now(), steady: performance.now() });
      tick();
      await record(`timer:${key}`, value);
    },
    async stop(key) {
      const stoppedAt = new Date();
      const started = begun.get(key)?.value.started || timerOf(key).started;
      const seconds = Math.max(0, (stoppedAt.getTime() - Date.parse(started)) / 1000).toFixed(1);
      const value = { state: "stopped", started, stopped: localIso(stoppedAt), seconds, clock_changed: drifted(key) };
      begun.set(key, { ...begun.get(key), value });
      tick();
      await record(`timer:${key}`, value);
      return value;
    },
    show: tick,
    end() {
      clearInterval(ticking);
      ticking = null;
      watchers.clear();
    },
  };
}
