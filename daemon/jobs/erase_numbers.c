/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/erase_numbers.h"

#include <string.h>

#include "adapters/store/find_people.h"

#define ADDRESSES_MOST 64

static bool is_among(const GPtrArray *texts, const char *text)
{
    return g_ptr_array_find_with_equal_func((GPtrArray *)texts, text, g_str_equal, NULL);
}

static void add_address(GPtrArray *addresses, const json_t *value)
{
    const char *text = json_string_value(value);

    if (text != NULL && *text != '\0' && addresses->len < ADDRESSES_MOST &&
        !is_among(addresses, text))
        g_ptr_array_add(addresses, g_strdup(text));
}

static void keep_value(const TxResult *result, void *context)
{
    json_t *value =
        result->text[0] != NULL ? json_loads(result->text[0], JSON_DECODE_ANY, NULL) : NULL;

    add_address(context, value);
    json_decref(value);
}

GPtrArray *erase_addresses(Job *job, const GPtrArray *ids)
{
    static const char *const SELECTS[] = {
        "SELECT value FROM setting WHERE subject = ?1 AND field IN ('phone', 'email') ORDER BY "
        "field DESC",
        "SELECT value FROM setting_lost WHERE subject = ?1 AND field IN ('phone', 'email') GROUP "
        "BY value ORDER BY max(wall) DESC, value LIMIT ?2",
    };
    GPtrArray *addresses = g_ptr_array_new_with_free_func(g_free);

    for (size_t i = 0; i < G_N_ELEMENTS(SELECTS); i++)
        for (guint k = 0; k < ids->len; k++)
            tx_select(job->tx, SELECTS[i], keep_value, addresses, i == 0 ? "t" : "ti",
                      (char *)ids->pdata[k], (int64_t)ADDRESSES_MOST);
    return addresses;
}

bool erase_is_own(Job *job, const char *address, const GPtrArray *ids)
{
    g_autoptr(GPtrArray) contacts = find_contacts_by_address(job->tx, address);

    for (guint i = 0; i < contacts->len; i++)
        if (!is_among(ids, row_text(contacts->pdata[i], CONTACT_CLIENT))) return false;
    return true;
}

bool erase_add_hashes(Job *job, const GPtrArray *addresses, const GPtrArray *ids, json_t *numbers)
{
    for (guint i = 0; i < addresses->len; i++) {
        if (!erase_is_own(job, addresses->pdata[i], ids)) continue;
        g_autoptr(GPtrArray) hashes = vault_hashes(job->vault, addresses->pdata[i], true);

        if (hashes->len == 0) return false;
        for (guint k = 0; k < hashes->len; k++)
            json_array_append_new(numbers, json_string(hashes->pdata[k]));
    }
    return true;
}

bool erase_knows_hash(Job *job, const char *hash)
{
    g_autofree char *subject = g_strconcat("number ", hash, NULL);
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_ERASED, subject);

    return row != NULL;
}

/* --- what comes later --- */

static char *erased_as(Job *job, const GPtrArray *ids)
{
    for (guint i = 0; i < ids->len; i++) {
        g_autoptr(Row) row = tx_get_text(job->tx, TABLE_ERASED, ids->pdata[i]);
        if (row != NULL) return g_strdup(row_text(row, ERASED_CLIENT));
    }
    return NULL;
}

/* Its words are left out of this record, but came with it. */
static void add_brought(GPtrArray *addresses, const Event *event)
{
    json_t *body =
        event->body != NULL ? json_loads(event->body, JSON_REJECT_DUPLICATES, NULL) : NULL;
    const json_t *fields = json_object_get(body, "fields");

    add_address(addresses, json_object_get(fields, "phone"));
    add_address(addresses, json_object_get(fields, "email"));
    json_decref(body);
}

static void leave_out_known(Job *job, json_t *numbers)
{
    for (size_t i = json_array_size(numbers); i-- > 0;)
        if (erase_knows_hash(job, json_string_value(json_array_get(numbers, i))))
            json_array_remove(numbers, i);
}

static void erase_numbers(Job *job, const char *client, json_t *numbers)
{
    json_t *body =
        json_pack("{s:I, s:s, s:s, s:[], s:O}", "at", (json_int_t)job->now_ms, "by", "osier", "why",
                  "another address of the same client", "also", "numbers", numbers);
    json_t *line = json_deep_copy(body);

    json_object_set_new(line, "client", json_string(client));
    vault_note_erasure(job->vault, line);
    tx_append(job->tx, "client.erase", client, "osier", NULL, body);
}

void erase_numbers_heard(Job *job, const Event *event)
{
    bool joins =
        strcmp(event->kind, "client.erase") == 0 || strcmp(event->kind, "client.same_as") == 0;

    if (job->vault == NULL || (!joins && strcmp(event->kind, "client.set") != 0) ||
        !tx_has_erased(job->tx))
        return;
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, event->subject);
    g_autofree char *client = erased_as(job, ids);
    if (client == NULL) return;
    g_autoptr(GPtrArray) addresses =
        joins ? erase_addresses(job, ids) : g_ptr_array_new_with_free_func(g_free);
    if (!joins) add_brought(addresses, event);
    json_t *numbers = json_array();
    erase_add_hashes(job, addresses, ids, numbers);
    leave_out_known(job, numbers);
    if (json_array_size(numbers) > 0) erase_numbers(job, client, numbers);
    json_decref(numbers);
}
