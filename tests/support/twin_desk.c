/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/twin_desk.h"

#include <string.h>

#include "adapters/store/store_memory.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

void twin_desk_open(TwinDesk *twin, const char *gateways)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *plain = settings_plain("Alder Row", "", "");
    int64_t start_ms;

    g_assert(instant_parse("2026-03-02T08:00:00Z", &start_ms));
    if (gateways != NULL) *strstr(plain, "gateways:") = '\0'; /* its last section */
    g_autofree char *text = g_strconcat(plain, gateways, NULL);
    twin->folder = folder_new();
    folder_write(twin->folder, "clinic.yaml", text, -1, 0600);
    twin->settings = settings_load(twin->folder, messages);
    for (guint i = 0; i < messages->len; i++)
        g_printerr("%s\n", (const char *)messages->pdata[i]);
    g_assert(twin->settings != NULL);
    twin->clock = clock_stepped_new(start_ms);
    twin->random = random_seeded_new(1);
    twin->store = store_memory_new("AAAAAAAAAAAAAAAA", start_ms);
    twin->desk = desk_new(twin->store, twin->clock, twin->random, twin->settings);
}

void twin_desk_settle(TwinDesk *twin)
{
    while (store_memory_pump(twin->store) > 0)
        continue;
}

void twin_desk_close(TwinDesk *twin)
{
    desk_free(twin->desk);
    twin->store->close(twin->store);
    random_free(twin->random);
    clock_free(twin->clock);
    settings_unref(twin->settings);
    folder_remove(twin->folder);
}
