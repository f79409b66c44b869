// SPDX-License-Identifier: Apache-2.0
// What somebody said of a session, as a few choices and two numbers.

import { h, choice, field, oneOf } from "./dom.js";

const NUMBERS = [["", "not said"], ...Array.from({ length: 11 }, (_, n) => [String(n), String(n)])];
const PAINS = [["", "not said"], ["some", "some, no number"], ...NUMBERS.slice(1)];

// key keeps the names of the fields of several forms apart. reading fills in what osier read.
export function reportFields(key, reading) {
  const pain = reading?.pain === null || reading?.pain === undefined ? "" : String(reading.pain);
  const done = oneOf("Done?", `done-${key}`, [["yes", "all"], ["partly", "in part"], ["no", "not"]], reading?.done ?? "");
  const intensity = choice("intensity", NUMBERS, reading?.intensity === null || reading?.intensity === undefined ? "" : String(reading.intensity));
  const painful = choice("pain", PAINS, pain);
  return {
    element: h("div", { class: "report" }, done, field("Stretch, 0 to 10", intensity), field("Pain, 0 to 10", painful)),
    value() {
      const body = {};
      const chosen = done.querySelector("input:checked")?.value;
      if (chosen) body.done = chosen;
      if (intensity.value !== "") body.intensity = Number(intensity.value);
      if (painful.value !== "") body.pain = painful.value === "some" ? "some" : Number(painful.value);
      return body;
    },
  };
}
