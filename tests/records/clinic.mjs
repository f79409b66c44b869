// SPDX-License-Identifier: Apache-2.0
// A clinic folder with a real osierd whose clock is stepped and whose gateway writes to files.

import { execFile, execFileSync, spawn } from "node:child_process";
import { copyFileSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);
const BYTES_MAX = 64 * 1024 * 1024;

const SETTINGS = `clinic:
  name: Saltmarsh Lane
  zone: Europe/London
  language: en
  phone: "+442079460100"
  emergency: "999"
  country_code: "44"
  hours: {mon-fri: "08:30-17:30"}
  quiet: "03:58-03:59"
  digest: {to: [desk@clinic.example]}
duty: [{name: R. Okafor, sms: "+442079460190"}]
gateways: {spool: {kind: spool}}
`;

// What fourteen days of the demo clinic leave behind.
export function rehearse(programs, out) {
  execFileSync(join(programs, "osier"), ["rehearse", "--from", "2026-03-02", "--days", "14", "--seed", "7", "--out", out]);
  return join(out, "store.db");
}

// store: a file to begin with, or null.
export async function openClinic(programs, clock, store = null) {
  const root = mkdtempSync(join(tmpdir(), "osier-records-"));
  const clinic = join(root, "c");
  execFileSync(join(programs, "osier"), ["init", clinic]);
  writeFileSync(join(clinic, "clinic.yaml"), SETTINGS);
  if (store !== null) copyFileSync(store, join(clinic, "store.db"));

  let said = "";
  const daemon = spawn(join(programs, "osierd"), ["--clinic", clinic, "--clock", clock], { stdio: ["ignore", "pipe", "pipe"] });
  await new Promise((resolve, reject) => {
    daemon.stdout.on("data", (piece) => {
      said += piece;
      if (said.includes("osierd: ready")) resolve();
    });
    daemon.stderr.on("data", (piece) => { said += piece; });
    daemon.on("exit", (code) => reject(new Error(`osierd ended with ${code}: ${said}`)));
  });
  const call = async (words) => (await run(join(programs, "osier"), [...words, "--json", "--clinic", clinic], { maxBuffer: BYTES_MAX })).stdout;
  return {
    root,
    osier: async (...words) => JSON.parse(await call(words)),
    close: async () => {
      const ended = new Promise((resolve) => daemon.on("exit", resolve));
      daemon.kill("SIGTERM");
      const code = await ended;
      rmSync(root, { recursive: true, force: true });
      if (code !== 0) throw new Error(`osierd ended with ${code}: ${said}`);
    },
  };
}
