// Dates, clocks and small words as the company's people write them.

const MONTHS = "January February March April May June July August September October November December".split(" ");
const DAYS = "Sunday Monday Tuesday Wednesday Thursday Friday Saturday".split(" ");

/** "May 14, 2031" of an ISO day. */
export function day(iso) {
  if (!iso) return "";
  const [year, month, date] = iso.slice(0, 10).split("-").map(Number);
  return `${MONTHS[month - 1]} ${date}, ${year}`;
}

/** "Monday, May 14, 2031" of an ISO day. */
export function weekday(iso) {
  return `${DAYS[new Date(`${iso}T12:00:00`).getDay()]}, ${day(iso)}`;
}

/** "10:42 AM" of a moment, where the tablet is. */
export function hour(moment) {
  const at = new Date(moment);
  const minutes = String(at.getMinutes()).padStart(2, "0");
  return `${at.getHours() % 12 || 12}:${minutes} ${at.getHours() < 12 ? "AM" : "PM"}`;
}

/** "10:42 AM", with the day before it when that was not today. */
export function moment(value, now = new Date()) {
  const at = new Date(value);
  return at.toDateString() === now.toDateString() ? hour(at) : `${MONTHS[at.getMonth()].slice(0, 3)} ${at.getDate()}, ${hour(at)}`;
}

/** "8:00 AM" of "08:00". */
export function clockTime(text) {
  const [hours, minutes] = text.split(":").map(Number);
  return `${hours % 12 || 12}:${String(minutes).padStart(2, "0")} ${hours < 12 ? "AM" : "PM"}`;
}

/** Today as an ISO day, where the company is. */
export function today(zone, now = new Date()) {
  return new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" }).format(now);
}

/** A moment in ISO form with the tablet's offset: "2026-11-29T10:42:07.250-05:00". */
export function localIso(at) {
  const offset = -at.getTimezoneOffset();
  const sign = offset < 0 ? "-" : "+";
  const two = (number) => String(Math.floor(number)).padStart(2, "0");
  const local = new Date(at.getTime() + offset * 60_000).toISOString().slice(0, -1);
  return `${local}${sign}${two(Math.abs(offset) / 60)}:${two(Math.abs(offset) % 60)}`;
}

/** "0:42" or "12:05" of seconds. */
export function stopwatch(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** "1 photo", "3 photos". */
export function many(count, word, plural = `${word}s`) {
  return `${count} ${count === 1 ? word : plural}`;
}

export function capital(words) {
  return words.slice(0, 1).toUpperCase() + words.slice(1);
}
