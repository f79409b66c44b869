/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/erase_also.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "daemon/jobs/erase_numbers.h"

/* So many texts are looked for in one walk. */
#define AT_ONCE 4

/* --- words of their own --- */

static bool is_within_word(const char *text, const char *at, const char *end)
{
    bool before = at > text && g_unichar_isalnum(g_utf8_get_char(g_utf8_prev_char(at)));
    bool after = *end != '\0' && g_unichar_isalnum(g_utf8_get_char(end));

    return before || after;
}

static bool stands_in(const char *text, const char *words)
{
    g_autofree char *folded = g_utf8_casefold(text, -1);
    g_autofree char *sought = g_utf8_casefold(words, -1);

    for (const char *at = folded; (at = strstr(at, sought)) != NULL; at = g_utf8_next_char(at))
        if (!is_within_word(folded, at, at + strlen(sought))) return true;
    return false;
}

/* A name of signs alone, such as "%", is in any text that uses them. */
static bool has_letters(const char *text)
{
    for (; *text != '\0'; text = g_utf8_next_char(text))
        if (g_unichar_isalnum(g_utf8_get_char(text))) return true;
    return false;
}

static bool text_speaks_of(const char *text, const GPtrArray *texts)
{
    for (guint i = 0; i < texts->len; i++)
        if (has_letters(texts->pdata[i]) && stands_in(text, texts->pdata[i])) return true;
    return false;
}

bool erase_speaks_of(const json_t *document, const GPtrArray *texts)
{
    const char *name;
    json_t *member;
    size_t i;

    if (json_is_string(document)) return text_speaks_of(json_string_value(document), texts);
    json_object_foreach((json_t *)document, name,
                        member) if (erase_speaks_of(member, texts)) return true;
    json_array_foreach((json_t *)document, i,
                       member) if (erase_speaks_of(member, texts)) return true;
    return false;
}

/* --- events --- */

typedef struct {
    json_t *also;
    const GPtrArray *texts;
} Search;

static void add_if_it_speaks(const TxResult *result, void *context)
{
    Search *search = context;
    json_t *body = json_loads(result->text[2], JSON_DECODE_ANY, NULL);

    if (erase_speaks_of(body, search->texts))
        json_array_append_new(search->also, json_sprintf("%s:%" G_GINT64_FORMAT, result->text[0],
                                                         result->integer[1]));
    json_decref(body);
}

/* A pattern for a text as a body writes it; what it finds is looked at once more. */
static char *pattern(const char *text)
{
    json_t *value = json_string(text);
    g_autofree char *quoted = json_dumps(value, JSON_ENCODE_ANY);

    json_decref(value);
    quoted[strlen(quoted) - 1] = '\0';
    return g_strdup_printf("%%%s%%", quoted + 1);
}

/* Single events, digests above all. The record is walked once for four texts, and what cannot be meant is told by the cheapest look
 * first: it may be long. */
static void add_events(Job *job, json_t *also, const GPtrArray *texts)
{
    Search search = {.also = also, .texts = texts};

    for (guint first = 0; first < texts->len; first += AT_ONCE) {
        g_autoptr(GPtrArray) within = g_ptr_array_new_with_free_func(g_free);
        for (guint i = first; i < first + AT_ONCE; i++)
            g_ptr_array_add(within, i < texts->len ? pattern(texts->pdata[i]) : NULL);
        tx_select(job->tx,
                  "SELECT replica, seq, body FROM event WHERE CASE WHEN kind IN ('session.asked', "
                  "'session.closed', 'report.made', 'client.erase', 'redacted', 'client.same_as') "
                  "THEN FALSE WHEN subject IN (SELECT subject FROM setting WHERE field = 'name' "
                  "UNION SELECT client FROM same UNION SELECT same_as FROM same) THEN FALSE WHEN "
                  "body LIKE ?1 OR body LIKE ?2 OR body LIKE ?3 OR body LIKE ?4 THEN NOT EXISTS "
                  "(SELECT 1 FROM reply WHERE reply.id = event.subject AND reply.client IS NOT "
                  "NULL) AND NOT EXISTS (SELECT 1 FROM alert WHERE alert.id = event.subject AND "
                  "alert.client <> 'clinic') ELSE FALSE END",
                  add_if_it_speaks, &search, "tttt", (char *)within->pdata[0],
                  (char *)within->pdata[1], (char *)within->pdata[2], (char *)within->pdata[3]);
    }
}

/* --- replies and alerts --- */

static void add_text(const TxResult *result, void *context)
{
    json_array_append_new(context, json_string(result->text[0]));
}

/* From an address of this client's alone. Of one that was read as another client's, only what tells the address. */
static void add_replies_from(Job *job, json_t *also, const char *client, const char *address)
{
    g_autoptr(GPtrArray) texts = g_ptr_array_new();
    Search search = {.also = also, .texts = texts};

    g_ptr_array_add(texts, (char *)address);
    tx_select(job->tx, "SELECT id FROM reply WHERE from_address = ?1 AND client IS NULL", add_text,
              also, "t", address);
    tx_select(job->tx,
              "SELECT replica, seq, body FROM event WHERE subject IN (SELECT id FROM reply WHERE "
              "from_address = ?1 AND client <> ?2) AND body IS NOT NULL",
              add_if_it_speaks, &search, "tt", address, client);
}

/* The client's ids, the name, then the addresses that are or were the client's and are nobody else's (of char *). */
static GPtrArray *texts_of(Job *job, const Person *person, const GPtrArray *ids)
{
    GPtrArray *texts = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) addresses = erase_addresses(job, ids);

    for (guint i = 0; i < ids->len; i++)
        g_ptr_array_add(texts, g_strdup(ids->pdata[i]));
    g_ptr_array_add(texts, g_strdup(person->name));
    for (guint i = 0; i < addresses->len; i++)
        if (erase_is_own(job, addresses->pdata[i], ids))
            g_ptr_array_add(texts, g_strdup(addresses->pdata[i]));
    return texts;
}

bool erase_names(Job *job, const Person *person, const char *text)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, person->id);
    g_autoptr(GPtrArray) texts = texts_of(job, person, ids);
    json_t *document = json_string(text);
    bool names = erase_speaks_of(document, texts);

    json_decref(document);
    return names;
}

json_t *erase_also(Job *job, const Person *person)
{
    json_t *also = json_array();
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, person->id);
    g_autoptr(GPtrArray) texts = texts_of(job, person, ids);

    tx_select(job->tx, "SELECT id FROM reply WHERE client = ?1 OR r_client = ?1 OR s_client = ?1",
              add_text, also, "t", person->id);
    tx_select(job->tx, "SELECT id FROM alert WHERE client = ?1", add_text, also, "t", person->id);
    for (guint i = 0; i < ids->len; i++)
        if (strcmp(ids->pdata[i], person->id) != 0)
            json_array_append_new(also, json_string(ids->pdata[i]));
    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++) {
        const char *address = person->address[channel];
        /* of an address that others have too, only what was read as this client's */
        if (address != NULL && erase_is_own(job, address, ids))
            add_replies_from(job, also, person->id, address);
    }
    add_events(job, also, texts);
    return also;
}

char *erase_open_alert(Job *job, const Person *person)
{
    g_autoptr(GPtrArray) open = find_alerts(job->tx, NULL, false);
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, person->id);
    g_autoptr(GPtrArray) texts = texts_of(job, person, ids);

    for (guint i = 0; i < open->len; i++) {
        const Row *alert = open->pdata[i];
        const char *client = row_text(alert, ALERT_CLIENT), *told = row_text(alert, ALERT_REASONS);
        bool own = g_strcmp0(client, person->id) == 0;
        if (g_strcmp0(client, "clinic") != 0 && !own) continue;
        json_t *reasons = told != NULL ? json_loads(told, 0, NULL) : NULL;
        bool speaks = own || erase_speaks_of(reasons, texts);
        json_decref(reasons);
        if (speaks) return g_strdup(row_text(alert, ALERT_CODE));
    }
    return NULL;
}
