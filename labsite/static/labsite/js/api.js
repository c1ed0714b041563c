// The one door to /api/v1/: session and CSRF, one key per submission, one error shape.
import { word } from "./words.js";

const KEYS = "restheight-submission:";

export class ApiError extends Error {
  constructor({ status = 0, code, message, fields = {}, current = null, answer = {} }) {
    super(message);
    this.name = "ApiError";
    Object.assign(this, { status, code, fields, current, answer });
  }
}

function csrfToken() {
  const holder = document.querySelector('meta[name="csrf-token"]');
  return holder ? holder.content : "";
}

function hex(bytes) {
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** A UUID; tablets on a plain-http lab network have no crypto.randomUUID. */
export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return hex(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** The key for this body at this place: the same until the server has answered for good. */
export function keyFor(place, body) {
  const content = JSON.stringify(body ?? null);
  const kept = JSON.parse(sessionStorage.getItem(KEYS + place) ?? "null");
  if (kept && kept.content === content) return kept.key;
  const key = newKey();
  sessionStorage.setItem(KEYS + place, JSON.stringify({ content, key }));
  return key;
}

export function settle(place) {
  sessionStorage.removeItem(KEYS + place);
}

/** A form with a file goes as it is; the browser names its content type. */
function isForm(body) {
  return body instanceof FormData;
}

function bytesOf(body) {
  return body === undefined || isForm(body) ? body : JSON.stringify(body);
}

function headersFor(method, { body, etag, key }) {
  const headers = { Accept: "application/json" };
  if (body !== undefined && !isForm(body)) headers["Content-Type"] = "application/json";
  if (method !== "GET") {
    headers["X-CSRFToken"] = csrfToken();
    headers["X-Device-Time"] = new Date().toISOString(); // kept beside the server's own time
  }
  if (key) headers["Idempotency-Key"] = key;
  if (etag) headers[method === "GET" ? "If-None-Match" : "If-Match"] = etag;
  return headers;
}

async function bodyOf(response) {
  if (response.status === 204 || response.status === 304) return null;
  try {
    return await response.json();
  } catch {
    return null;
  }
}

function failure(response, data) {
  return new ApiError({
    status: response.status,
    code: data?.code ?? "unreadable_answer",
    message: data?.message ?? word("api.unreadable", { status: response.status }),
    fields: data?.fields ?? {},
    current: data?.current ?? null,
    answer: data ?? {},
  });
}

async function send(method, url, options) {
  try {
    return await fetch(url, {
      method,
      headers: headersFor(method, options),
      body: bytesOf(options.body),
      credentials: "same-origin",
      cache: "no-store",
      signal: options.signal,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new ApiError({ code: "no_network", message: word("api.no_network") });
  }
}

/** {data, etag, status}; throws ApiError with the server's own words. */
export async function request(method, url, options = {}) {
  const response = await send(method, url, options);
  const data = await bodyOf(response);
  if (!response.ok && response.status !== 304) throw failure(response, data);
  return { data, etag: response.headers.get("ETag"), status: response.status };
}

export function get(url, options) {
  return request("GET", url, options);
}

/**
 * Create something once. A retry after a lost answer carries the same key; the key is given
 * up when the server has taken the record or refused it (not on a lost network or a 5xx).
 */
export async function create(url, body, { place = url, ...options } = {}) {
  try {
    const answer = await request("POST", url, { ...options, body, key: keyFor(place, body) });
    settle(place);
    return answer;
  } catch (error) {
    if (error instanceof ApiError && error.status >= 400 && error.status < 500) settle(place);
    throw error;
  }
}

/** Change a row that was read with `etag`; 412 comes back with the newer values in `current`. */
export function change(url, body, etag, { method = "PATCH", ...options } = {}) {
  return request(method, url, { ...options, body, etag });
}

export function remove(url, etag, options = {}) {
  return request("DELETE", url, { ...options, etag });
}
