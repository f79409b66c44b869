// SPDX-License-Identifier: Apache-2.0
// Logging in, and choosing a password by a one-time link.

import { enter } from "./api.js";
import { h, field } from "./dom.js";

function form(title, lead, fields, label, submit) {
  const fault = h("p", { class: "fault", role: "alert" });
  const send = h("button", { class: "main" }, label);
  return h("form", { class: "door", onsubmit: run }, h("h1", {}, title), lead, fields, fault, send);

  async function run(event) {
    event.preventDefault();
    fault.textContent = "";
    send.disabled = true;
    try {
      await submit();
    } catch (problem) {
      fault.textContent = problem.why;
      send.disabled = false;
    }
  }
}

export function logIn(begin, note) {
  const name = h("input", { name: "name", autocomplete: "username", required: true, maxlength: 80 });
  const password = h("input", { name: "password", type: "password", autocomplete: "current-password", required: true });
  return form("Log in", note ? h("p", { class: "notice" }, note) : null,
    [field("Your name", name), field("Password", password)], "Log in", async () => {
      await enter("/session", { name: name.value, password: password.value });
      begin();
    });
}

export function welcome(token, begin) {
  const password = h("input", { name: "password", type: "password", autocomplete: "new-password", required: true, minlength: 12 });
  const again = h("input", { name: "again", type: "password", autocomplete: "new-password", required: true });
  return form("Choose a password", h("p", {}, "This link works once. After it you log in with your name and this password."),
    [field("Password", password, "12 characters or more. Several words that only you would put together are best."),
      field("The same again", again)], "Keep it and go in", async () => {
      if (password.value !== again.value) throw { why: "The two are not the same." };
      await enter("/welcome", { token, password: password.value });
      begin();
    });
}
