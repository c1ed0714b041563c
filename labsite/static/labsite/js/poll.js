// ETag polling. Asks again at its pace while the tab is seen, slower when the network is
// gone, and tells the page when what it shows has outlived its own validity.
import { get } from "./api.js";
import { now, setServerTime } from "./clock.js";

const SLOWEST_MS = 30000;

/** The next wait: the usual pace, doubled for each failure in a row, up to half a minute. */
export function nextWait(every, failures) {
  return Math.min(every * 2 ** failures, Math.max(every, SLOWEST_MS));
}

/** "fresh" until the answer's own validity ends, then "expired"; "lost" without a network. */
export function freshness({ validUntil, failures, at }) {
  if (validUntil && at >= Date.parse(validUntil)) return "expired";
  return failures > 0 ? "lost" : "fresh";
}

export function poll({ url, every = 5000, onData, onState = () => {} }) {
  let etag = null;
  let failures = 0;
  let validUntil = null;
  let answeredAt = null;
  let timer = null;
  let stopped = false;
  let state = null;

  function tell() {
    const next = freshness({ validUntil, failures, at: now() });
    if (next === state && next === "fresh") return;
    state = next;
    onState({ state, since: answeredAt, failures });
  }

  function take({ data, etag: tag, status }) {
    failures = 0;
    answeredAt = now();
    if (status === 304 || !data) return;
    etag = tag;
    if (data.server_time) setServerTime(data.server_time);
    validUntil = data.valid_until_at ?? null;
    onData(data);
  }

  async function ask() {
    try {
      take(await get(url, { etag }));
    } catch (error) {
      failures += 1;
      if (error.status === 401 || error.status === 403) return location.reload();
    }
    tell();
    plan();
  }

  function plan() {
    clearTimeout(timer);
    if (!stopped && !document.hidden) timer = setTimeout(ask, nextWait(every, failures));
  }

  function wake() {
    if (document.hidden) clearTimeout(timer);
    else if (!stopped) ask();
  }

  document.addEventListener("visibilitychange", wake);
  addEventListener("online", wake);
  plan();
  return {
    refresh: ask,
    stop() {
      stopped = true;
      clearTimeout(timer);
      document.removeEventListener("visibilitychange", wake);
      removeEventListener("online", wake);
    },
  };
}
