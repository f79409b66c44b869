/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/history.h"

#define CLIENTS 2000

const char *history_client(int i)
{
    static _Thread_local char client[16];

    g_snprintf(client, sizeof client, "C%07d", i / 4 % CLIENTS);
    return client;
}

static char *scattered(int n)
{
    g_autofree char *hex = NULL;
    g_autofree char *text = g_strdup_printf("session %d", n);

    hex = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
    return g_strndup(hex, 32);
}

void history_write(Tx *tx, int i, const char *client, int64_t now_ms)
{
    g_autofree char *id = scattered(i / 4);
    json_int_t at = now_ms - 1000000000 + i;

    switch (i % 4) {
    case 0:
        tx_append(tx, "session.asked", client, "osier", NULL,
                  json_pack("{s:s,s:s,s:i,s:s,s:s,s:I,s:s,s:s,s:s,s:I,s:[]}", "session", id, "date",
                            "2026-02-20", "slot", 1, "local", "2026-02-20T10:30", "zone",
                            "Europe/London", "utc", at, "stage", "calf-1", "programme", "p",
                            "message", id, "at", at, "reasons"));
        break;
    case 1:
        tx_append(tx, "message.settled", client, "osier", NULL,
                  json_pack("{s:s,s:s,s:s,s:s,s:s,s:I,s:s,s:s,s:I,s:i}", "message", id, "to",
                            "+442079460001", "channel", "sms", "kind", "reminder", "text",
                            "Time for your calf stretch: both sides, three times.", "at", at,
                            "session", id, "fate", "accepted", "fate_at", at, "segments", 1));
        break;
    case 2:
        tx_append(tx, "reply.received", id, "client", NULL,
                  json_pack("{s:s,s:s,s:s,s:s,s:s,s:I,s:I}", "gateway", "texts", "gateway_id", id,
                            "from", "+442079460001", "channel", "sms", "text", "did them, a 4",
                            "at", at, "arrived", at));
        tx_append(tx, "reply.read", id, "osier", NULL,
                  json_pack("{s:s,s:s,s:s,s:{s:s,s:i}}", "client", client, "session", id, "state",
                            "read", "reading", "done", "yes", "intensity", 4));
        break;
    default:
        tx_append(tx, "report.made", client, "client", NULL,
                  json_pack("{s:s,s:s,s:i,s:I,s:s,s:i,s:i,s:s,s:s}", "session", id, "date",
                            "2026-02-20", "slot", 1, "at", at, "done", "yes", "intensity", 4,
                            "pain", 0, "by", "client", "reply", id));
    }
}
