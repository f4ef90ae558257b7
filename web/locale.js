// Times and numbers as the reader's country writes them.
//
// Rule: a railway's clock runs through 24 hours everywhere, as do the times in what the service says; only the signs differ.

const number = new Intl.NumberFormat();
const short = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: "UTC" });
const long = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23", timeZone: "UTC" });

/** A count or a measure. */
export function count(n) {
  return number.format(n);
}

/** A time of day given as HH:MM or HH:MM:SS; anything else as it stands. */
export function time(text) {
  const parts = /^(\d\d):(\d\d)(?::(\d\d))?$/.exec(text ?? "");
  if (!parts || Number(parts[1]) > 23) return text ?? "";
  const moment = Date.UTC(2000, 0, 1, Number(parts[1]), Number(parts[2]), Number(parts[3] ?? 0));
  return (parts[3] === undefined ? short : long).format(moment);
}
