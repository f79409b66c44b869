// SPDX-License-Identifier: Apache-2.0
// The clinic's page in a real browser: one morning, from the first log-in to a confirmed stage, at three widths, by keyboard
// alone, and looked at by axe-core. Usage: node browser.mjs PROGRAMS TOOLS SHOTS

import assert from "node:assert/strict";
import { existsSync, mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { openHouse } from "./house.mjs";

const [programs, tools, shots] = process.argv.slice(2).map((path) => resolve(path));
const require = createRequire(join(tools, "package.json"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const PASSWORD = "salt marsh in the morning";
const WIDTHS = [360, 768, 1440];
const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const EVIL = "<img src=x onerror=alert(1)><script>alert(2)</script>";
const NUMBER = "+447700900777";

mkdirSync(shots, { recursive: true });
const house = await openHouse(programs, "2026-03-16T09:00:00Z");
const browser = await chromium.launch({
  executablePath: ["/usr/bin/chromium", "/usr/bin/chromium-browser"].find(existsSync),
  args: process.getuid?.() === 0 ? ["--no-sandbox"] : [],
});
const complaints = [];
let passed = 0;

async function newPage(width) {
  const context = await browser.newContext({ viewport: { width, height: 900 }, locale: "en-GB", reducedMotion: "reduce" });
  const page = await context.newPage();
  page.setDefaultTimeout(15000);
  page.on("pageerror", (error) => complaints.push(`script: ${error.message}`));
  page.on("dialog", (dialog) => {
    complaints.push(`dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  page.on("request", (request) => {
    if (!request.url().startsWith(house.url)) complaints.push(`asked elsewhere: ${request.url()}`);
  });
  page.on("console", (message) => {
    if (message.type() === "error" && !/status of (4\d\d|503)|ERR_INTERNET_DISCONNECTED/.test(message.text())) complaints.push(`console: ${message.text()}`);
  });
  return page;
}

async function look(page, name) {
  await page.waitForFunction(() => !document.querySelector("main > p.quiet"));
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  assert.ok(wide <= 0, `${name}: ${wide} px wider than the window`);
  await page.screenshot({ path: join(shots, `${name}-${page.viewportSize().width}.png`), fullPage: true });
  await page.evaluate(axe);
  const found = await page.evaluate((tags) => axe.run(document, { runOnly: tags }).then((r) => ({
    held: r.passes.length, broken: r.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(" | ")}`) })), TAGS);
  assert.deepEqual(found.broken, [], `${name}: axe-core`);
  assert.ok(found.held >= 10, `${name}: axe-core looked at ${found.held} rules only`);
}

const goTo = async (page, view, heading) => {
  await page.goto(`${house.url}/#/${view}`);
  await page.getByRole("heading", { level: 1, name: heading }).waitFor();
};

async function step(name, body) {
  const start = Date.now();
  try {
    await body();
  } catch (error) {
    console.error(`[  FAILED  ] ${name}`);
    throw error;
  }
  assert.deepEqual(complaints, [], name);
  passed++;
  console.log(`[       OK ] ${name} (${((Date.now() - start) / 1000).toFixed(1)} s)`);
}

const page = await newPage(1440);
let client = null;

async function morning() {
  await step("a one-time link lets a clinician choose a password", async () => {
    const account = await house.osier("account", "add", "M. Adeyemi", "--role", "clinician");
    await page.goto(account.link);
    await page.getByRole("heading", { name: "Choose a password" }).waitFor();
    await look(page, "welcome");
    await page.getByLabel("Password", { exact: true }).fill("too short");
    await page.getByLabel("Password", { exact: true }).fill(PASSWORD);
    await page.getByLabel("The same again").fill("something else altogether");
    await page.getByRole("button", { name: "Keep it and go in" }).click();
    await page.getByRole("alert").filter({ hasText: "not the same" }).waitFor();
    await page.getByLabel("The same again").fill(PASSWORD);
    await page.getByRole("button", { name: "Keep it and go in" }).click();
    await page.getByRole("heading", { name: /Monday.*16 March/ }).waitFor();
    assert.ok(!page.url().includes(account.link.split("/").pop()), "the link is gone from the address");
  });

  await step("a client and plan are shown before they are kept", async () => {
    await goTo(page, "new", "New client");
    await page.getByLabel("Name", { exact: true }).fill("Ada Nightingale");
    await page.getByLabel("Telephone", { exact: true }).fill(NUMBER);
    await page.getByLabel("Leg, hip joint to heel, cm").fill("85");
    await page.getByLabel("yes", { exact: true }).check();
    await page.getByRole("button", { name: "Show what will happen" }).click();
    await page.getByRole("alert").filter({ hasText: "The screen" }).waitFor();
    await page.getByLabel("I asked all of this, and nothing was found").check();
    await page.getByLabel("Leg raise, degrees").fill("62");
    await page.getByLabel("Where it pulls").selectOption("thigh");
    await page.getByLabel("Time of the session").fill("02:30");
    await page.getByRole("button", { name: "Show what will happen" }).click();
    await page.getByRole("alert").filter({ hasText: "quiet hours" }).waitFor();
    await page.getByLabel("Time of the session").fill("09:30");
    await page.getByRole("button", { name: "Show what will happen" }).click();
    await page.getByRole("heading", { name: "This is what will happen" }).waitFor();
    const preview = page.locator(".preview");
    await preview.getByText("Lower hamstring").first().waitFor();
    await preview.getByText("time for your stretches").first().waitFor();
    assert.equal(await preview.locator(".lines li").count(), 7);
    await look(page, "new");
    assert.equal((await house.osier("client", "list")).length, 15, "nothing is kept yet");
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByRole("heading", { level: 1, name: "Ada Nightingale" }).waitFor();
    client = page.url().split("/").pop();
    assert.equal((await house.osier("client", "list")).length, 16);
  });

  await step("the first reminder goes and is seen without loading anew", async () => {
    await house.clockTo("2026-03-16T09:31:00Z");
    const mine = house.texts.sent.filter((t) => t.to === NUMBER);
    assert.equal(mine.length, 2, "welcome and reminder");
    assert.match(mine[1].text, /time for your stretches/);
    await page.locator(".thread").getByText("reminder, sent").waitFor();
  });

  await step("the client's answer appears by itself", async () => {
    await goTo(page, "today", /16 March/);
    house.texts.answer(NUMBER, "Done, a 4, no pain");
    await house.clockTo("2026-03-16T09:35:00Z");
    const line = page.locator('[data-key="done"] li', { hasText: "Ada Nightingale" });
    await line.getByText("stretch 4, pain 0").waitFor();
  });

  await step("script in a reply is text", async () => {
    house.texts.answer(NUMBER, EVIL);
    await house.clockTo("2026-03-16T09:40:00Z");
    await goTo(page, `client/${client}`, "Ada Nightingale");
    await page.locator("blockquote", { hasText: EVIL }).first().waitFor();
    await goTo(page, "replies", "Replies");
    await page.locator("blockquote", { hasText: EVIL }).first().waitFor();
    assert.equal(await page.locator("main img, main script").count(), 0);
  });

  await step("a long name, script in it, and writing from right to left", async () => {
    for (const name of [`${EVIL.slice(0, 60)}`, "شيماء عبد الرحمن", "李小龙医生的患者", "W".repeat(80)])
      await house.osier("client", "add", "--name", name, "--channel", "phone", "--phone", "+442079460321");
    for (const width of WIDTHS) {
      await page.setViewportSize({ width, height: 900 });
      await goTo(page, "clients", "Clients");
      await page.locator(".client a", { hasText: "<img src=x" }).waitFor();
      await look(page, "clients");
    }
    await page.setViewportSize({ width: 1440, height: 900 });
    await page.getByLabel("Name or code").fill("night");
    await page.getByRole("button", { name: "Find" }).click();
    await page.getByText("1 to 1 of 1 client").waitFor();
    assert.equal(await page.locator(".client").count(), 1);
  });

  await step("an alert is taken by one press, and closed with what comes of it", async () => {
    await goTo(page, "today", /16 March/);
    await page.locator(".matter", { hasText: "A gateway fails" }).getByText("Now it works again.").waitFor();
    const matter = page.locator(".matter", { hasText: "Margaret Sewell" });
    await matter.getByRole("button", { name: "I take this" }).click();
    await matter.getByText("taken by you").waitFor();
    const taken = (await house.osier("alerts")).find((a) => a.kind === "missed-run");
    assert.equal(taken.taken_by, "M. Adeyemi");
    await matter.getByRole("button", { name: "Close" }).click();
    await look(page, "closing");
    await matter.getByLabel("Note for the record").fill("rang her; goes on");
    await matter.getByRole("button", { name: "Close the matter" }).click();
    assert.equal((await house.osier("alerts")).find((a) => a.kind === "missed-run").state, "taken", "nobody has said what comes of it");
    await matter.getByLabel("What comes of it").selectOption("resume");
    await matter.getByRole("button", { name: "Close the matter" }).click();
    await matter.waitFor({ state: "detached" });
  });

  await step("a warning sign stands first, red and in words", async () => {
    house.texts.answer(NUMBER, "done but chest tightness since this morning");
    await house.clockTo("2026-03-16T09:45:00Z");
    const first = page.locator(".matter").first();
    await page.locator(".matter.now", { hasText: "Ada Nightingale" }).getByText("heart or breathing sign").waitFor();
    assert.ok(await first.getByText("NOW").isVisible());
  });

  await step("an unread reply is settled by one press", async () => {
    await goTo(page, "replies", "Replies");
    await look(page, "replies");
    const reply = page.locator(".reply", { hasText: "L All done. Stretch 4, pain 0" });
    await reply.getByRole("button", { name: "It is from Leonard Hathaway" }).click();
    await reply.waitFor({ state: "detached" });
    const settled = (await house.osier("replies")).find((r) => r.text === "L All done. Stretch 4, pain 0" && r.state === "settled");
    assert.equal(settled.state, "settled");
    const before = (await house.osier("glance")).length;
    assert.ok(before > 0, "no reply is there to be seen once");
    await page.getByRole("button", { name: "Seen", exact: true }).first().click();
    await page.waitForFunction((n) => [...document.querySelectorAll("button")].filter((b) => b.textContent.trim() === "Seen").length === n, before - 1);
    assert.equal((await house.osier("glance")).length, before - 1);
  });

  await step("two who share a phone are told apart", async () => {
    const doreen = (await house.osier("client", "list")).find((c) => c.name === "Doreen Hathaway").client;
    await goTo(page, `client/${doreen}`, "Doreen Hathaway");
    await page.getByText("Shares the phone with Leonard Hathaway (L): texts and answers begin with R.").waitFor();
  });

  await step("a stage is confirmed", async () => {
    const joan = (await house.osier("client", "list")).find((c) => c.name === "Joan Fairweather").client;
    await goTo(page, `client/${joan}`, "Joan Fairweather");
    await page.getByText("Ready to move on", { exact: true }).waitFor();
    await page.locator(".thread").getByText("read as: letter A of the weekly question").waitFor();
    await look(page, "client");
    await page.getByRole("button", { name: /Confirm: on to Calf with a strap/ }).click();
    await page.locator("section", { hasText: "Plan" }).getByText("Calf with a strap").first().waitFor();
    assert.equal((await house.osier("plan", "show", joan)).stage, "calf-with-strap");
  });
}

async function measuring() {
  await step("a measure is written down and set beside the one before", async () => {
    await goTo(page, `client/${client}`, "Ada Nightingale");
    for (const [side, angle, on] of [["left", "58", "2026-02-16"], ["left", "62", ""], ["right", "66", ""]]) {
      if (side === "left" && on) await page.getByText("Write down a measure").click(); // it stays unfolded
      await page.getByLabel("Side").selectOption(side);
      await page.getByLabel("Angle, degrees").fill(angle);
      await page.getByLabel("On, if not today").fill(on);
      await page.locator("#measures ~ details button.main").click();
      await page.getByRole("cell", { name: `${angle}°` }).first().waitFor();
    }
    await page.locator("svg.range").waitFor();
    await look(page, "measures");
  });

  await step("what somebody writes is not taken away by what comes in", async () => {
    await page.getByLabel("Needs, for whoever rings").fill("ring before noon, sl");
    house.texts.answer(NUMBER, "my ankle is swollen and hot");
    await house.clockTo("2026-03-16T09:50:00Z");
    await page.locator("#tally-calls", { hasText: "2" }).waitFor();
    assert.equal(await page.getByLabel("Needs, for whoever rings").inputValue(), "ring before noon, sl");
    await page.getByLabel("Needs, for whoever rings").fill("ring before noon, slowly");
    await page.locator("#do ~ .search button", { hasText: "Keep" }).click();
    await page.locator(".person .needs", { hasText: "ring before noon, slowly" }).waitFor();
    await page.locator("blockquote", { hasText: "swollen and hot" }).waitFor();
  });

  await step("a plan is set anew for a client who is there", async () => {
    await page.getByRole("link", { name: "Set screen and plan anew" }).click();
    await page.getByRole("heading", { level: 1, name: "Plan for Ada Nightingale" }).waitFor();
    await page.getByLabel("Leg raise, degrees").fill("62");
    await page.getByLabel("Time of the session").fill("11:15");
    await page.getByRole("button", { name: "Show what will happen" }).click();
    await page.getByRole("heading", { name: "This is what will happen" }).waitFor();
    await look(page, "anew");
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByText("at 11:15, the client's own clock").waitFor();
  });
}

// A GET with the page's own log-in: status, type and how much came.
const fetched = (page, path) => page.evaluate(async (p) => {
  const answer = await fetch(p);
  return { status: answer.status, type: answer.headers.get("content-type"), size: (await answer.arrayBuffer()).byteLength };
}, path);

async function paper() {
  await step("pictures are seen, and paper is there to print", async () => {
    await goTo(page, `client/${client}`, "Ada Nightingale");
    const drawn = page.locator(".setup img").first();
    await drawn.scrollIntoViewIfNeeded();
    await page.waitForFunction(() => document.querySelector(".setup img")?.naturalWidth > 0);
    assert.match(await drawn.getAttribute("alt"), /Lying|Sitting/);
    await page.getByText("Half a year at a glance").click();
    await page.waitForFunction(() => document.querySelector(".whole img")?.naturalWidth > 0);
    await look(page, "pictures");
    assert.match(await page.getByRole("link", { name: "Summary for the file" }).getAttribute("href"), /summary\.pdf$/);
    for (const path of [`/clients/${client}/summary.pdf`, `/clients/${client}/summary.pdf?words=true`, "/week.pdf"]) {
      const got = await fetched(page, path);
      assert.deepEqual([got.status, got.type], [200, "application/pdf"], path);
      assert.ok(got.size > 8000, path);
    }
    const held = await fetched(page, `/clients/${client}/handout.pdf`);
    const joan = (await house.osier("client", "list")).find((c) => c.name === "Joan Fairweather").client;
    const free = await fetched(page, `/clients/${joan}/handout.pdf?large=true`);
    assert.deepEqual([held.status, free.status, free.type], [403, 200, "application/pdf"]);
  });

  await step("a client's view is printed", async () => {
    const printed = await page.pdf({ format: "A4" });
    assert.ok(printed.length > 10000);
  });
}

async function erasing() {
  await step("a client is erased, with a reason and the code", async () => {
    const gone = await house.osier("client", "add", "--name", "Mistaken Entry", "--channel", "phone", "--phone", "+442079460355");
    await goTo(page, `client/${gone.client}`, "Mistaken Entry");
    await page.getByText("Erase this client for good").click();
    await page.getByLabel("Reason, for the record").fill("entered twice");
    await page.getByRole("button", { name: "Erase for good" }).click();
    await page.getByText(`Write the code ${gone.client} to confirm.`).waitFor();
    await look(page, "erasing");
    await page.getByLabel(`Code ${gone.client}, to confirm`).fill(gone.client);
    await page.getByRole("button", { name: "Erase for good" }).click();
    await page.getByRole("heading", { level: 1, name: "Clients" }).waitFor();
    assert.equal((await house.osier("client", "list")).some((c) => c.name === "Mistaken Entry"), false);
  });
}

async function telephone() {
  await step("a client with a landline is rung, and what was said is kept", async () => {
    const ringing = await house.osier("client", "add", "--name", "Basil Thwaite", "--channel", "phone", "--phone", "+442079460333", "--needs", "hard of hearing");
    await house.osier("screen", ringing.client, "--by", "M. Adeyemi", "--floor", "no", "--clear");
    await house.osier("plan", "set", ringing.client, "--programme", "calf-and-hamstring", "--at", "10:00", "--stage", "ankle-pumping");
    await house.clockTo("2026-03-16T10:01:00Z");
    await goTo(page, "calls", "People to ring");
    const person = page.locator(".matter", { hasText: "Basil Thwaite" });
    await person.getByText("hard of hearing").waitFor();
    await person.getByText("Did you do your stretches today").waitFor();
    await look(page, "calls");
    await person.getByLabel("all", { exact: true }).check();
    await person.getByLabel("Stretch, 0 to 10").selectOption("3");
    await person.getByLabel("Pain, 0 to 10").selectOption("0");
    await person.getByRole("button", { name: "Write it down" }).click();
    await person.waitFor({ state: "detached" });
    const [session] = await house.osier("sessions", ringing.client, "--from", "2026-03-16", "--days", "1");
    assert.equal(session.state, "done");
  });

  await step("days and dates are those of the client, not of UTC", async () => {
    const far = await house.osier("client", "add", "--name", "Moana Reid", "--zone", "Pacific/Auckland", "--channel", "phone", "--phone", "+442079460334");
    await house.osier("screen", far.client, "--by", "M. Adeyemi", "--floor", "no", "--clear");
    await house.osier("plan", "set", far.client, "--programme", "calf-and-hamstring", "--at", "10:00", "--stage", "ankle-pumping", "--rule", "FREQ=WEEKLY;BYDAY=MO,WE,FR");
    await house.osier("measure", "add", far.client, "--movement", "leg-raise", "--side", "left", "--method", "goniometer", "--angle-deg", "61", "--date", "2026-03-10", "--by", "M. Adeyemi");
    await goTo(page, `client/${far.client}`, "Moana Reid");
    await page.getByText("at 10:00, the client's own clock, on Mon, Wed, Fri.").waitFor();
    await page.getByRole("rowheader", { name: "Tue 10 Mar" }).waitFor();
  });
}

async function widths() {
  await step("every view at three widths", async () => {
    const helene = (await house.osier("client", "list")).find((c) => c.name === "Hélène Baudry").client;
    const views = [["today", /16 March/, "today"], ["calls", "People to ring", "calls"], ["replies", "Replies", "replies"], ["clients", "Clients", "clients"],
      ["new", "New client", "form"], ["week", /The week from/, "week"], ["state", "How osier stands", "state"], [`client/${helene}`, "Hélène Baudry", "held"]];
    for (const width of WIDTHS) {
      await page.setViewportSize({ width, height: 900 });
      for (const [view, heading, name] of views) {
        await goTo(page, view, heading);
        if (view === "clients") {
          await page.getByLabel("Name or code").fill("");
          await page.getByRole("button", { name: "Find" }).click();
          await page.getByText(/^\d\d clients$/).waitFor();
        }
        await look(page, name);
      }
    }
  });
}

// Tab until the element that answers to a name has the focus.
async function tabTo(page, name) {
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press("Tab");
    const on = await page.evaluate(() => document.activeElement?.textContent?.trim() || document.activeElement?.labels?.[0]?.textContent || "");
    if (on.startsWith(name)) return;
  }
  throw new Error(`no way to ${name} by the keyboard`);
}

async function keyboard() {
  await step("the keyboard alone is enough", async () => {
    const keys = await newPage(768);
    await house.osier("alert", "open", client, "--kind", "fall", "--words", "her daughter rang", "--by", "S. Thorsen");
    await keys.goto(house.url);
    await keys.getByRole("heading", { name: "Log in" }).waitFor();
    await look(keys, "log-in");
    await keys.keyboard.type("M. Adeyemi");
    await keys.keyboard.press("Tab");
    await keys.keyboard.type("not the password");
    await keys.keyboard.press("Enter");
    await keys.getByRole("alert").filter({ hasText: "do not belong together" }).waitFor();
    await keys.getByLabel("Password").focus();
    await keys.keyboard.press("Control+A");
    await keys.keyboard.type(PASSWORD);
    await keys.keyboard.press("Enter");
    await keys.getByRole("heading", { name: /16 March/ }).waitFor();
    const matter = keys.locator(".matter", { hasText: "Fall" }).or(keys.locator(".matter", { hasText: "fall" })).first();
    await matter.waitFor();
    await tabTo(keys, "I take this");
    await keys.keyboard.press("Enter");
    await keys.getByText("taken by you").first().waitFor();
    await tabTo(keys, "Clients");
    await keys.keyboard.press("Enter");
    await keys.getByRole("heading", { level: 1, name: "Clients" }).waitFor();
    await tabTo(keys, "Ada Nightingale");
    await keys.keyboard.press("Enter");
    await keys.getByRole("heading", { level: 1, name: "Ada Nightingale" }).waitFor();
    await tabTo(keys, "Log out");
    await keys.keyboard.press("Space");
    await keys.getByRole("heading", { name: "Log in" }).waitFor();
    await keys.goBack();
    await keys.getByRole("heading", { name: "Log in" }).waitFor();
    await keys.context().close();
  });

  await step("whoever walks away is logged out, and warned before", async () => {
    const idle = await newPage(768);
    await idle.clock.install({ time: new Date() });
    await idle.goto(house.url);
    await idle.getByLabel("Your name").fill("M. Adeyemi");
    await idle.getByLabel("Password").fill(PASSWORD);
    await idle.keyboard.press("Enter");
    await idle.getByRole("heading", { name: /16 March/ }).waitFor();
    await idle.context().setOffline(true);
    await idle.clock.fastForward("01:01");
    await idle.getByRole("alert").filter({ hasText: "No line to osier" }).waitFor();
    await idle.getByText("Hélène Baudry").first().waitFor();
    await look(idle, "no-line");
    await idle.context().setOffline(false);
    await idle.clock.fastForward("01:01");
    await idle.getByText("No line to osier").waitFor({ state: "detached" });
    await idle.clock.fastForward("26:30");
    await idle.getByRole("dialog", { name: "Still there?" }).waitFor();
    await idle.getByRole("button", { name: "Stay logged in" }).click();
    await idle.getByRole("dialog").waitFor({ state: "detached" });
    await idle.clock.fastForward("30:30");
    await idle.getByText("because nothing was done here").waitFor();
    assert.equal(await idle.getByText("Hélène Baudry").count(), 0);
    await idle.context().close();
  });

  await step("the desk is not offered what only clinicians may do", async () => {
    const desk = await newPage(1440);
    const account = await house.osier("account", "add", "P. Lowther", "--role", "desk");
    await desk.goto(account.link);
    await desk.getByLabel("Password", { exact: true }).fill(PASSWORD);
    await desk.getByLabel("The same again").fill(PASSWORD);
    await desk.keyboard.press("Enter");
    await desk.getByRole("heading", { name: /16 March/ }).waitFor();
    assert.equal(await desk.getByRole("link", { name: "New client" }).count(), 0);
    await goTo(desk, `client/${client}`, "Ada Nightingale");
    assert.equal(await desk.getByRole("button", { name: /Confirm|Move there|Erase for good/ }).count(), 0);
    await house.osier("account", "close", "P. Lowther");
    await desk.getByRole("heading", { name: "Log in" }).waitFor();
    await desk.context().close();
  });

  await step("who looked and who changed is written down", async () => {
    const looks = await house.osier("account", "looks", "--client", client);
    assert.ok(looks.some((l) => l.by === "M. Adeyemi" && l.did === "looked"));
    assert.ok(looks.some((l) => l.by === "M. Adeyemi" && l.did === "changed" && l.call === "POST /enrolments"));
    assert.ok(looks.some((l) => l.by === "P. Lowther" && l.did === "looked"));
  });
}

async function lineDown() {
  await step("the day says that the line is down", async () => {
    await page.setViewportSize({ width: 1440, height: 900 });
    await goTo(page, "today", /16 March/);
    house.texts.close();
    await house.clockTo("2026-03-16T10:05:00Z");
    await page.reload();
    await page.getByText("The clinic's line has been down since").waitFor();
    assert.equal(await page.getByText("Now it works again.").count(), 0);
    await look(page, "line-down");
  });
}

let failed = null;
try {
  await morning();
  await measuring();
  await paper();
  await erasing();
  await telephone();
  await widths();
  await keyboard();
  await lineDown();
} catch (error) {
  failed = error;
  await page.screenshot({ path: join(shots, "failed.png"), fullPage: true }).catch(() => {});
}
await browser.close();
await house.close().catch((error) => { failed ??= error; });
if (failed) {
  console.error(failed);
  console.error(`complaints: ${complaints.join("\n")}`);
  process.exitCode = 1;
} else {
  console.log(`${passed} passed; the screenshots lie in ${shots}`);
}
