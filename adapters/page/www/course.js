// SPDX-License-Identifier: Apache-2.0
// One client's course: a row of days with what became of each session, and how strong and how painful it was.

import { h, svg } from "./dom.js";
import { date, painWords, STATES, tenth } from "./words.js";

const HEIGHT = 130;
const TOP = 12;
const LEFT = 30;
const ROW = 18;

const daysBetween = (from, to) => Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / 86400000);
const y = (n) => TOP + HEIGHT - (n / 10) * HEIGHT;

function shape(state, cx, cy) {
  const r = 5;
  const box = { x: cx - r, y: cy - r, width: 2 * r, height: 2 * r };
  if (state === "done") return svg("rect", { ...box, class: "full" });
  if (state === "partly") return svg("g", {}, svg("rect", { ...box, class: "rim" }), svg("rect", { ...box, y: cy, height: r, class: "full" }));
  if (state === "not") return svg("path", { d: `M${cx - r} ${cy - r}l${2 * r} ${2 * r}M${cx + r} ${cy - r}l${-2 * r} ${2 * r}`, class: "cross" });
  if (state === "silent") return svg("circle", { cx, cy, r: r - 0.5, class: "rim" });
  if (state === "asked") return svg("circle", { cx, cy, r: 2.5, class: "full" });
  return svg("path", { d: `M${cx - r} ${cy}h${2 * r}`, class: state === "excused" ? "bar" : "dash" });
}

function axis(width) {
  return [0, 5, 10].map((n) => svg("g", {}, svg("line", { x1: LEFT, x2: width, y1: y(n), y2: y(n), class: "grid" }),
    svg("text", { x: LEFT - 6, y: y(n) + 4, "text-anchor": "end" }, n)));
}

function line(points, name) {
  return svg("g", { class: name }, svg("polyline", { points: points.map((p) => `${p.x},${p.y}`).join(" ") }),
    points.map((p) => name === "stretch" ? svg("circle", { cx: p.x, cy: p.y, r: 3.5 }) : svg("path", { d: `M${p.x} ${p.y - 5}l5 9h-10z` })));
}

function summary(sessions) {
  const counts = {};
  for (const s of sessions) counts[s.state] = (counts[s.state] ?? 0) + 1;
  const told = sessions.filter((s) => s.intensity !== null);
  const mean = told.length > 0 ? told.reduce((sum, s) => sum + s.intensity, 0) / told.length : null;
  const worst = Math.max(-1, ...sessions.filter((s) => s.pain !== null && s.pain !== "some").map((s) => Number(s.pain)));
  const bare = Math.max(0, ...sessions.filter((s) => s.bare).map((s) => s.intensity));
  const some = sessions.some((s) => s.pain === "some");
  return [Object.entries(counts).map(([state, n]) => `${n} ${STATES[state]}`).join(", "), mean === null ? null : `stretch ${tenth(mean)} on average`,
    painWords(worst, bare, some)].filter(Boolean).join("; ");
}

// The range by date and side, beside the goals: from measures in degrees.
export function range(list, goals) {
  const angles = list.filter((m) => m.unit === "deg" && typeof m.value === "number" && m.at);
  if (!["left", "right"].some((side) => angles.filter((m) => m.side === side).length > 1)) return null;
  const days = angles.map((m) => Date.parse(m.at) / 86400000);
  const first = Math.min(...days);
  const span = Math.max(1, Math.max(...days) - first);
  const width = 520;
  const x = (m) => LEFT + 12 + ((Date.parse(m.at) / 86400000 - first) / span) * (width - LEFT - 40);
  const up = (value) => TOP + HEIGHT - (Math.min(120, value) / 120) * HEIGHT;
  const sides = ["left", "right"].map((side) => ({ side, points: angles.filter((m) => m.side === side).sort((a, b) => (a.at < b.at ? -1 : 1)) })).filter((s) => s.points.length > 0);
  const goal = [...new Set(Object.values(goals ?? {}).filter((g) => typeof g === "number"))];
  const text = sides.map((s) => s.points.length === 1 ? `${s.side} ${s.points[0].value}°` : `${s.side} from ${s.points[0].value}° to ${s.points.at(-1).value}°`).join(", ");
  return h("figure", { class: "course" }, svg("svg", { viewBox: `0 0 ${width} ${TOP + HEIGHT + 26}`, role: "img", "aria-label": `Range: ${text}.`, class: "range" },
    [0, 30, 60, 90, 120].map((n) => svg("g", {}, svg("line", { x1: LEFT, x2: width, y1: up(n), y2: up(n), class: "grid" }), svg("text", { x: LEFT - 4, y: up(n) + 4, "text-anchor": "end" }, n))),
    goal.map((g) => svg("line", { x1: LEFT, x2: width, y1: up(g), y2: up(g), class: "goal" })),
    sides.map((s) => svg("g", { class: s.side }, svg("polyline", { points: s.points.map((m) => `${x(m)},${up(m.value)}`).join(" ") }),
      s.points.map((m) => s.side === "left" ? svg("circle", { cx: x(m), cy: up(m.value), r: 4.5 }) : svg("rect", { x: x(m) - 4, y: up(m.value) - 4, width: 8, height: 8 })))),
    svg("text", { x: LEFT + 4, y: TOP + HEIGHT + 20 }, date(angles.map((m) => m.date).sort()[0])),
    svg("text", { x: width - 8, y: TOP + HEIGHT + 20, "text-anchor": "end" }, date(angles.map((m) => m.date).sort().at(-1)))),
  h("figcaption", {}, h("span", { class: "key left" }, "left"), h("span", { class: "key right" }, "right"), goal.length > 0 ? h("span", { class: "key goal" }, "goal") : null,
    h("span", { class: "quiet" }, `${text}.`)));
}

export function course(data) {
  if (data.sessions.length === 0) return h("p", { class: "quiet" }, "Nothing has been asked yet.");
  const fortnight = new Date(Date.parse(`${data.to}T00:00:00Z`) - 13 * 86400000).toISOString().slice(0, 10);
  const from = data.sessions[0].date < fortnight ? data.sessions[0].date : fortnight;
  const days = daysBetween(from, data.to) + 1;
  const WIDTH = Math.max(15, Math.min(44, Math.floor(760 / days)));
  const slots = Math.max(...data.sessions.map((s) => s.slot));
  const width = LEFT + days * WIDTH + 10;
  const height = TOP + HEIGHT + 18 + slots * ROW + 24;
  const place = (s) => LEFT + daysBetween(from, s.date) * WIDTH + WIDTH / 2 + (s.slot - 1) * 3;
  const stretch = data.sessions.filter((s) => s.intensity !== null).map((s) => ({ x: place(s), y: y(s.intensity) }));
  const pain = data.sessions.filter((s) => s.pain !== null && s.pain !== "some").map((s) => ({ x: place(s), y: y(Number(s.pain)) }));
  const marks = data.sessions.map((s) => {
    const g = svg("g", {}, shape(s.state, LEFT + daysBetween(from, s.date) * WIDTH + WIDTH / 2, TOP + HEIGHT + 18 + (s.slot - 0.5) * ROW));
    g.append(svg("title", {}, `${date(s.date)}: ${STATES[s.state]}`));
    return g;
  });
  const ticks = [];
  for (let d = 0; d < days; d += 7) {
    const at = new Date(Date.parse(`${from}T00:00:00Z`) + d * 86400000).toISOString().slice(0, 10);
    ticks.push(svg("text", { x: Math.min(LEFT + d * WIDTH + 2, width - 44), y: height - 4 }, date(at).replace(/^\w+, ?|^\w+ /, "")));
  }
  const text = summary(data.sessions);
  /* The latest days are seen first, however narrow the window. */
  requestAnimationFrame(() => {
    const place = document.querySelector(".course .scroll");
    if (place) place.scrollLeft = place.scrollWidth;
  });
  return h("figure", { class: "course" },
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Course, day by day" },
      svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": `${text}.` },
        axis(width), line(stretch, "stretch"), line(pain, "pain"), marks, ticks)),
    h("figcaption", {}, h("span", { class: "key stretch" }, "stretch, 0 to 10"), h("span", { class: "key pain" }, "pain, 0 to 10"), h("span", { class: "quiet" }, `${text}.`)));
}
