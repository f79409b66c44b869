/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/mishaps.h"

#include <time.h>

static const char STRANGER[] = "+447700900199";

static void fall_sick(void *world, void *unused)
{
    (void)unused;
    standin_set_sick(((World *)world)->standin, true);
}

static void get_well(void *world, void *unused)
{
    (void)unused;
    standin_set_sick(((World *)world)->standin, false);
}

static void write_as_stranger(void *world, void *unused)
{
    (void)unused;
    world_text(world, STRANGER, "Hi, is this still Dave from the boatyard?", NULL, NULL);
}

static int64_t at(const World *world, int day, int32_t second)
{
    return zone_instant(world->zone, (LocalTime){world->from + day, second}, NULL);
}

void mishaps_plan(World *world, int64_t end_ms)
{
    int days = (int)((end_ms - world->now_ms) / DAY_MS);

    for (size_t i = 0; i < world->n_residents; i++)
        if (world->residents[i].someone.persona->old_phone != NULL)
            standin_refuse(world->standin, world->residents[i].someone.persona->old_phone);
    if (days >= 4) {
        int day = 3 + world_draw(world, "bad hour, day", days - 3);
        int32_t second = 8 * 3600 + world_draw(world, "bad hour, minute", 45) * 60;
        agenda_add(world->agenda, at(world, day, second), fall_sick, NULL, NULL);
        agenda_add(world->agenda, at(world, day, second) + HOUR_MS, get_well, NULL, NULL);
    }
    if (days >= 2) {
        int32_t second = 11 * 3600 + world_draw(world, "stranger", 6 * 3600);
        agenda_add(world->agenda, at(world, 1, second), write_as_stranger, NULL, NULL);
    }
}

/* --- receipts ------------------------------------------------------------------------------- */

typedef struct {
    char *gateway;
    char *id;
} Slip;

static void slip_free(void *data)
{
    Slip *receipt = data;

    g_free(receipt->gateway);
    g_free(receipt->id);
    g_free(receipt);
}

static const char *secret(const char *name, void *world)
{
    return secrets_get(((World *)world)->folder->secrets, name);
}

static void post_receipt(void *context, void *subject)
{
    World *world = context;
    const Slip *receipt = subject;
    const Gateway *gateway = clinic_gateway(world->folder->clinic, receipt->gateway);
    WireRequest *request = gateway != NULL && gateway->receipts != NULL
                               ? hook_receipt(gateway->receipts, world->hooks_origin, receipt->id,
                                              true, (int64_t)time(NULL), secret, world)
                               : NULL;

    if (request != NULL) wire_response_free(link_deliver(world->link, request));
}

void mishaps_receipt(World *world, const char *gateway, const char *gateway_id)
{
    const Gateway *known = clinic_gateway(world->folder->clinic, gateway);
    bool heard = known != NULL && known->receipts != NULL && known->receipts->path != NULL &&
                 known->receipts->delivered->len > 0 && gateway_id != NULL;

    if (!heard) return;
    Slip *receipt = g_new0(Slip, 1);
    *receipt = (Slip){g_strdup(gateway), g_strdup(gateway_id)};
    int64_t wait_ms = (4 + world_draw(world, "receipt", 40)) * SECOND_MS;
    agenda_add(world->agenda, world->now_ms + wait_ms, post_receipt, receipt, slip_free);
}
