// SPDX-License-Identifier: Apache-2.0
// Calls of the JSON API. Who is logged in is known by a cookie that scripts cannot read; a change carries the session's token.

export const session = { name: null, role: null, token: null, clinic: "", idle_s: 1800 };

export class Fault extends Error {
  constructor(status, document) {
    const error = document?.error ?? {};
    super([error.what, error.value, error.why].filter(Boolean).join(": ") || `answer ${status}`);
    this.status = status;
    this.what = error.what ?? "";
    this.why = error.why ?? this.message;
    this.part = document?.part ?? null;
  }

  // As a sentence beside a form of several fields: what it is about, and why it may not be.
  get told() {
    const text = this.message.replace(/_/g, " ");
    return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
  }
}

const GET_MS = 15000;
let lost = () => {};
let quiet = false;

export function onLost(callback) {
  lost = callback;
}

// While work runs, calls count as the page's own, not as a person's doing.
export async function quietly(work) {
  quiet = true;
  try {
    return await work();
  } finally {
    quiet = false;
  }
}

async function call(method, path, body) {
  const headers = {};
  if (body !== undefined) headers["Content-Type"] = "application/json";
  if (session.token !== null && method === "POST") headers["X-Osier-Token"] = session.token;
  if (quiet) headers["X-Osier-Quiet"] = "1";
  let answer;
  try {
    answer = await fetch(path, { method, headers, body: body === undefined ? undefined : JSON.stringify(body), cache: "no-store",
      signal: method === "GET" ? AbortSignal.timeout(GET_MS) : undefined });
  } catch {
    throw new Fault(0, { error: { why: "osier does not answer; is it running?" } });
  }
  const document = await answer.json().catch(() => null);
  if (answer.status === 401 && path !== "/session") lost();
  if (!answer.ok) throw new Fault(answer.status, document);
  return document;
}

export const get = (path) => call("GET", path);
export const post = (path, body) => call("POST", path, body ?? {});

export async function loadSession() {
  Object.assign(session, { name: null, role: null, token: null }, await get("/session"));
  return session.name !== null;
}

export async function enter(path, body) {
  Object.assign(session, await post(path, body));
}

export async function leave() {
  try {
    await post("/session/end");
  } catch {
    // it had ended by itself
  }
  Object.assign(session, { name: null, role: null, token: null });
}
