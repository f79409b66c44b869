/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/erase.h"

#include <string.h>

#include "adapters/store/find_access.h"
#include "adapters/store/find_record.h"
#include "daemon/jobs/erase_also.h"
#include "daemon/jobs/erase_numbers.h"

#define EARLY "early:"

/* --- may it be? --- */

static void keep_latest(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

/* The last thing that was written about the client. */
static int64_t last_word_ms(Job *job, const char *client)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);
    int64_t last_ms = 0;

    for (guint i = 0; i < ids->len; i++) {
        int64_t its_ms = 0;
        tx_select(job->tx, "SELECT max(wall) FROM event WHERE subject = ?1", keep_latest, &its_ms,
                  "t", (char *)ids->pdata[i]);
        last_ms = MAX(last_ms, its_ms);
    }
    return last_ms;
}

char *erase_refused(Job *job, const Person *person, const char *why)
{
    g_autofree char *alert = erase_open_alert(job, person);
    Day last = zone_local(job_clinic_zone(job), last_word_ms(job, person->id)).day;
    Day until = day_years_after(last, job->clinic->keep_records_years);

    if (alert != NULL) return g_strdup_printf("alert %s is open: close it first", alert);
    if (person->held) return g_strdup("is on hold: a clinician lifts it first");
    if (erase_names(job, person, why))
        return g_strdup(
            "would be named by the reason, which stays for good: say why without a name, "
            "a number or an address");
    if (zone_local(job_clinic_zone(job), job->now_ms).day < until &&
        !g_str_has_prefix(why, EARLY)) {
        g_autofree char *date = day_format(until);
        return g_strdup_printf("the clinic keeps records until %s; where they must go before, say "
                               "why: --why \"" EARLY " ...\"",
                               date);
    }
    return NULL;
}

/* --- erasing --- */

static void drop_spooled(const TxResult *result, void *context)
{
    vault_drop_spooled(context, result->text[0]);
}

void erase_clean(Job *job, const char *client)
{
    g_autofree char *within = g_strdup_printf("%%%s%%", client);

    if (job->vault != NULL)
        tx_select(job->tx,
                  "SELECT id FROM message WHERE client = ?1 OR text LIKE ?2 UNION SELECT id FROM "
                  "outbox WHERE client = ?1 OR text LIKE ?2",
                  drop_spooled, job->vault, "tt", client, within);
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);
    for (guint i = 0; i < ids->len; i++)
        feeds_drop(job->tx, ids->pdata[i]);
    tx_change(job->tx,
              "DELETE FROM code WHERE alert IN (SELECT subject FROM erased WHERE client = ?1)", "t",
              client);
    tx_change(job->tx,
              "DELETE FROM due WHERE client = ?1 OR key IN (SELECT subject FROM erased WHERE "
              "client = ?1)",
              "t", client);
    tx_change(job->tx,
              "DELETE FROM outbox WHERE client = ?1 OR text LIKE ?2 OR alert IN (SELECT subject "
              "FROM erased WHERE client = ?1)",
              "tt", client, within);
}

bool erase_client(Job *job, const Person *person, const char *by, const char *why)
{
    g_autofree char *client = g_strdup(person->id);
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);
    g_autoptr(GPtrArray) addresses = erase_addresses(job, ids);
    json_t *numbers = json_array();

    g_assert(job->vault != NULL);
    bool hashed = erase_add_hashes(job, addresses, ids, numbers);
    json_t *body = json_pack("{s:I, s:s, s:s, s:o, s:o}", "at", (json_int_t)job->now_ms, "by", by,
                             "why", why, "also", erase_also(job, person), "numbers", numbers);
    json_t *line = json_deep_copy(body);
    json_object_set_new(line, "client", json_string(client));
    if (!hashed || !vault_note_erasure(job->vault, line)) {
        json_decref(body);
        return false;
    }
    tx_append(job->tx, "client.erase", client, by, NULL, body);
    erase_clean(job, client);
    return true;
}

/* --- again --- */

static bool is_known(Job *job, const char *client)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_ERASED, client);

    return row != NULL;
}

/* An address of the client may have come to light after the first erasure. */
static bool knows_numbers(Job *job, const json_t *numbers)
{
    size_t i;
    json_t *item;

    json_array_foreach((json_t *)numbers, i, item)
    {
        if (json_is_string(item) && !erase_knows_hash(job, json_string_value(item))) return false;
    }
    return true;
}

void erase_again(Job *job)
{
    json_t *list = job->vault != NULL ? vault_erasures(job->vault) : json_array();
    size_t i;
    json_t *erasure;

    json_array_foreach(list, i, erasure)
    {
        const char *client = json_string_value(json_object_get(erasure, "client"));
        const char *by = json_string_value(json_object_get(erasure, "by"));

        if (client == NULL || *client == '\0' ||
            (is_known(job, client) && knows_numbers(job, json_object_get(erasure, "numbers"))))
            continue;
        json_t *body = json_deep_copy(erasure);
        json_object_del(body, "client");
        g_autofree char *subject = g_strdup(client);
        tx_append(job->tx, "client.erase", subject, by != NULL ? by : "osier", NULL, body);
        erase_clean(job, subject);
    }
    json_decref(list);
}

static void clean_all_of(Job *job, const char *client)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);
    bool erased = false;

    for (guint i = 0; i < ids->len && !erased; i++)
        erased = is_known(job, ids->pdata[i]);
    for (guint i = 0; i < ids->len && erased; i++)
        erase_clean(job, ids->pdata[i]);
}

void erase_heard(Job *job, const Event *event)
{
    if (strcmp(event->kind, "client.erase") == 0 && event->body != NULL && job->vault != NULL) {
        json_t *line = json_loads(event->body, 0, NULL);
        if (json_is_object(line)) {
            json_object_set_new(line, "client", json_string(event->subject));
            vault_note_erasure(job->vault, line);
        } else {
            json_decref(line);
        }
    }
    erase_numbers_heard(job, event);
    if (strcmp(event->kind, "client.erase") == 0 || strcmp(event->kind, "client.same_as") == 0)
        clean_all_of(job, event->subject);
}

bool erase_knows(Job *job, const char *address)
{
    if (job->vault == NULL || address == NULL || !tx_has_erased(job->tx)) return false;
    g_autoptr(GPtrArray) hashes = vault_hashes(job->vault, address, false);

    for (guint i = 0; i < hashes->len; i++)
        if (erase_knows_hash(job, hashes->pdata[i])) return true;
    return false;
}

void erase_look_ahead(Job *job, const GPtrArray *addresses)
{
    g_autoptr(GPtrArray) subjects = g_ptr_array_new_with_free_func(g_free);

    if (job->vault == NULL || !tx_has_erased(job->tx)) return;
    for (guint i = 0; i < addresses->len; i++) {
        g_autoptr(GPtrArray) hashes = vault_hashes(job->vault, addresses->pdata[i], false);
        for (guint k = 0; k < hashes->len; k++)
            g_ptr_array_add(subjects, g_strconcat("number ", hashes->pdata[k], NULL));
    }
    tx_fetch(job->tx, TABLE_ERASED, NULL, subjects);
}
