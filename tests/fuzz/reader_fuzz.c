/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a reply, by any pack first: what is read stays within its bounds, and twice the same.
 * The first byte chooses the language. */
#include <stdint.h>
#include <string.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"

enum { PACKS_MAX = 8 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Loaded once: a fuzz target has no other place to keep them. */
static const GPtrArray *packs_once(void)
{
    static GPtrArray *packs;

    if (packs == NULL) {
        g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
        packs = packs_load(NULL, messages);
        g_assert(packs->len > 0 && packs->len <= PACKS_MAX);
    }
    return packs;
}

static void check(const Reading *reading)
{
    const char *const texts[] = {reading->rest, reading->from_done, reading->from_intensity,
                                 reading->from_pain, reading->from_warning};

    g_assert(reading->intensity == -1 || (reading->intensity >= 0 && reading->intensity <= 10));
    if (reading->pain_kind == PAIN_NUMBER) g_assert(reading->pain >= 0 && reading->pain <= 10);
    if (reading->warning != WARNING_NONE) g_assert(reading->person);
    if (reading->unclear) g_assert(reading->person);
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
        if (texts[i] != NULL) g_assert(g_utf8_validate(texts[i], -1, NULL));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const GPtrArray *packs = packs_once();
    const Pack *ordered[PACKS_MAX];
    unsigned first = size > 0 ? data[0] : 0;

    if (size == 0) return 0;
    for (guint i = 0; i < packs->len; i++)
        ordered[i] = packs->pdata[(i + first) % packs->len];
    const char *text = (const char *)data + 1;
    g_autoptr(Reading) reading = reply_read(ordered, (int)packs->len, text, size - 1);
    g_autoptr(Reading) again = reply_read(ordered, (int)packs->len, text, size - 1);
    json_t *one = reading_json(reading), *other = reading_json(again);
    check(reading);
    g_assert(one != NULL && json_equal(one, other));
    json_decref(one);
    json_decref(other);
    return 0;
}
