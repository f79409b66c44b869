// SPDX-License-Identifier: Apache-2.0
// A clinic with a real osierd whose clock is stepped, on what a rehearsal left behind, and the stand-in of a text gateway:
// texts that went out can be looked at, answers be put in.

import { execFile, execFileSync, spawn } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { createServer as createSocket } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);

// A port of the loopback that nobody listened on a moment ago.
function freePort() {
  return new Promise((resolve) => {
    const socket = createSocket();
    socket.listen(0, "127.0.0.1", () => {
      const { port } = socket.address();
      socket.close(() => resolve(port));
    });
  });
}

function listen(server) {
  return new Promise((resolve) => server.listen(0, "127.0.0.1", () => resolve(server.address().port)));
}

async function gateway() {
  const sent = [];
  const inbox = [];
  const server = createServer((request, response) => {
    let body = "";
    request.on("data", (piece) => { body += piece; });
    request.on("end", () => {
      response.setHeader("Content-Type", "application/json");
      if (request.method === "POST") {
        const form = new URLSearchParams(body);
        sent.push({ to: form.get("to"), text: form.get("text") });
        response.end(JSON.stringify({ id: `m${sent.length}` }));
        return;
      }
      const after = Number(new URL(request.url, "http://x").searchParams.get("after") || 0);
      response.end(JSON.stringify({ messages: inbox.slice(after), next: String(inbox.length) }));
    });
  });
  const port = await listen(server);
  return { port, sent, answer: (from, text) => inbox.push({ id: `r${inbox.length}`, from, text }), close: () => {
    server.close();
    server.closeAllConnections();
  } };
}

// The demo clinic's settings with this gateway, and with a mail gateway that writes to a folder.
function settings(pagePort, gatewayPort) {
  const demo = readFileSync("config/demo/clinic.yaml", "utf8");
  return demo.slice(0, demo.indexOf("gateways:")).replace(/^page:.*$/m, `page: {listen: "127.0.0.1:${pagePort}"}`).replace(/^hooks:.*$/m, "") + `gateways:
  texts:
    kind: http-sms
    send:
      url: http://127.0.0.1:${gatewayPort}/send
      form: {to: "{to}", text: "{text}", ref: "{id}"}
      accepted: {status: [200], id: /id}
    poll: {url: "http://127.0.0.1:${gatewayPort}/inbox?after={cursor}", every: 1min, items: /messages, id: /id, from: /from, text: /text, cursor: /next}
  spool:
    kind: spool
`;
}

export async function openHouse(programs, clock) {
  const root = mkdtempSync(join(tmpdir(), "osier-page-"));
  const clinic = join(root, "c");
  const texts = await gateway();
  const port = await freePort();
  execFileSync(join(programs, "osier"), ["rehearse", "--from", "2026-03-02", "--days", "14", "--seed", "7", "--out", join(root, "r")]);
  for (const folder of [clinic, join(clinic, "secrets"), join(clinic, "spool")]) mkdirSync(folder, { mode: 0o700 });
  copyFileSync(join(root, "r", "store.db"), join(clinic, "store.db"));
  writeFileSync(join(clinic, "clinic.yaml"), settings(port, texts.port));

  let said = "";
  let daemon = null;
  const start = () => new Promise((resolve, reject) => {
    daemon = spawn(join(programs, "osierd"), ["--clinic", clinic, "--clock", clock], { stdio: ["ignore", "pipe", "pipe"] });
    daemon.stdout.on("data", (piece) => {
      said += piece;
      if (said.includes("osierd: ready")) resolve();
    });
    daemon.stderr.on("data", (piece) => { said += piece; });
    daemon.on("exit", (code) => reject(new Error(`osierd ended with ${code}: ${said}`)));
  });
  await start();

  const osier = async (...words) => JSON.parse((await run(join(programs, "osier"), [...words, "--json", "--clinic", clinic])).stdout);
  return {
    url: `http://127.0.0.1:${port}`, texts, osier,
    clockTo: (to) => osier("clock", "to", to),
    said: () => said,
    close: async () => {
      const ended = new Promise((resolve) => daemon.on("exit", resolve));
      daemon.kill("SIGTERM");
      const code = await ended;
      texts.close();
      rmSync(root, { recursive: true, force: true });
      if (code !== 0) throw new Error(`osierd ended with ${code}: ${said}`);
    },
  };
}
