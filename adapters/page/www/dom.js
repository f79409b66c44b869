// SPDX-License-Identifier: Apache-2.0
// Makes elements. Texts become text nodes and nothing else, so that no name and no reply is ever markup.

export function h(tag, props, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (value === true) element.setAttribute(name, "");
    else element.setAttribute(name, String(value));
  }
  add(element, children);
  return element;
}

function add(element, children) {
  for (const child of children) {
    if (child === undefined || child === null || child === false) continue;
    if (Array.isArray(child)) add(element, child);
    else element.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
}

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, props, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(props ?? {}))
    if (value !== undefined && value !== null) element.setAttribute(name, String(value));
  add(element, children);
  return element;
}

// A button that is out of use while what it started goes on.
export function button(label, action, props) {
  const element = h("button", { type: "button", ...props, onclick: run }, label);
  async function run() {
    if (element.getAttribute("aria-disabled") === "true") return;
    element.setAttribute("aria-disabled", "true");
    try {
      await action();
    } finally {
      element.removeAttribute("aria-disabled");
    }
  }
  return element;
}

let count = 0;

// A labelled field. input is an element; hint and its fault are read out with it.
export function field(label, input, hint) {
  const id = `f${++count}`;
  input.id = id;
  const note = hint ? h("p", { class: "hint", id: `${id}h` }, hint) : null;
  if (note) input.setAttribute("aria-describedby", note.id);
  return h("div", { class: ["date", "time"].includes(input.type) ? "field short" : "field" }, h("label", { for: id }, label), note, input);
}

export function choice(name, options, chosen, props) {
  return h("select", { name, ...props },
    options.map(([value, label]) => h("option", { value, selected: value === chosen }, label)));
}

// One of a few, as radio buttons that look like one row.
export function oneOf(legend, name, options, chosen) {
  return h("fieldset", { class: "oneof" }, h("legend", {}, legend),
    options.map(([value, label]) => h("label", {},
      h("input", { type: "radio", name, value, checked: value === chosen }), h("span", {}, label))));
}

let saying = null;

export function say(text) {
  const place = document.getElementById("say");
  place.textContent = text;
  clearTimeout(saying);
  saying = setTimeout(() => { place.textContent = ""; }, 6000);
}
