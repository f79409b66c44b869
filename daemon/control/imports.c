/* SPDX-License-Identifier: Apache-2.0 */
/* Clients out of a spreadsheet, some rows a call. Rows are judged by what judges a client that is added by hand, and each is
 * marked with its import, so that the import can be taken back. What a person knows of an import stands in the meta table of
 * the replica that made it: "import.ID". */
#include <string.h>

#include "adapters/store/find_people.h"
#include "core/ledger/id.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

#define ROWS_MAX 500
#define PEOPLE_MAX 500
#define ID_CHARS 8
#define DRAFT_BYTES_MAX 100000
/* The ids of that many fit into one event. */
#define REDACT_MAX 20000
/* More rows than an import has: their ids rise from row to row. */
#define IMPORT_PARTS UINT64_C(200000)

/* --- what is known of an import --------------------------------------------------------------- */

static char *meta_key(const char *import)
{
    return g_strconcat("import.", import, NULL);
}

/* What the meta table has of it (new reference), or NULL. */
static json_t *import_load(Job *job, const char *import)
{
    g_autofree char *key = meta_key(import);
    g_autofree char *text = tx_meta(job->tx, key);

    return text != NULL ? json_loads(text, 0, NULL) : NULL;
}

/* about is taken over. */
static void import_keep(Job *job, const char *import, json_t *about)
{
    g_autofree char *key = meta_key(import);
    char *text = json_dumps(about, JSON_COMPACT | JSON_SORT_KEYS);

    tx_set_meta(job->tx, key, text);
    free(text);
    json_decref(about);
}

/* Eight capital letters and digits, as the command line draws them. */
static bool is_import_id(const char *text)
{
    return strlen(text) == ID_CHARS && strspn(text, "23456789ABCDEFGHJKMNPQRSTVWXYZ") == ID_CHARS;
}

static void add_import(const TxResult *result, void *context)
{
    json_t *about = json_loads(result->text[1], 0, NULL);

    if (!json_is_object(about)) {
        json_decref(about);
        return;
    }
    json_object_set_new(about, "import", json_string(result->text[0] + strlen("import.")));
    json_array_append_new(context, about);
}

bool handle_import_list(Job *job, Call *call)
{
    json_t *list = json_array();

    tx_select(job->tx, "SELECT key, value FROM meta WHERE key >= 'import.' AND key < 'import/'",
              add_import, list, "");
    return call_ok(call,
                   json_pack("{s:s, s:s, s:o}", "country_code",
                             job->clinic->country_code != NULL ? job->clinic->country_code : "",
                             "zone", job->clinic->zone, "imports", list));
}

/* --- who is there already --------------------------------------------------------------------- */

static void add_person(const TxResult *result, void *context)
{
    const char *born = result->text[2];
    json_t *name =
        json_loads(result->text[1] != NULL ? result->text[1] : "null", JSON_DECODE_ANY, NULL);

    json_array_append_new(context,
                          json_pack("[s, o, i]", result->text[0], name != NULL ? name : json_null(),
                                    born != NULL ? (int)g_ascii_strtod(born, NULL) : 0));
}

/* [[id, name, year of birth or 0], ...] from an id on: skip. */
bool handle_import_people(Job *job, Call *call)
{
    const char *skip = call_text(call, "skip");
    json_t *list = json_array();

    tx_select(job->tx,
              "SELECT n.subject, n.value, b.value FROM setting n LEFT JOIN setting b "
              "ON b.subject = n.subject AND b.field = 'born' WHERE n.field = 'name' AND n.subject "
              "> ?1 ORDER BY n.subject LIMIT ?2",
              add_person, list, "ti", skip != NULL ? skip : "", (int64_t)PEOPLE_MAX);
    return call_ok(call, list);
}

/* Another client with the same phone or mail: [{"client", "name", "same": "phone"}]. */
static json_t *alike(Job *job, const json_t *fields)
{
    static const char *const ADDRESSES[] = {"phone", "email"};
    json_t *list = json_array();

    for (size_t i = 0; i < G_N_ELEMENTS(ADDRESSES); i++) {
        const char *address = json_string_value(json_object_get(fields, ADDRESSES[i]));
        if (address == NULL) continue;
        g_autoptr(GPtrArray) same = find_contacts_by_address(job->tx, address);
        for (guint j = 0; j < same->len; j++) {
            const char *other = row_text(same->pdata[j], CONTACT_CLIENT);
            g_autofree char *name = find_setting(job->tx, other, "name");
            json_array_append_new(list, json_pack("{s:s, s:o, s:s}", "client", other, "name",
                                                  json_parsed(name), "same", ADDRESSES[i]));
        }
    }
    return list;
}

/* --- rows ------------------------------------------------------------------------------------- */

/* The call's rows, at most ROWS_MAX objects. NULL after answering. */
static json_t *take_rows(Call *call)
{
    json_t *rows = json_object_get(call->body, "rows");
    json_t *row;
    size_t i;

    if (!json_is_array(rows) || json_array_size(rows) > ROWS_MAX) {
        call_fail(call, EXIT_DATA, "rows", "", "must be a list of at most %d", ROWS_MAX);
        return NULL;
    }
    json_array_foreach(rows, i, row)
    {
        if (json_is_object(row)) continue;
        call_fail(call, EXIT_DATA, "rows", "", "holds what is no object");
        return NULL;
    }
    return rows;
}

/* What came beside the fields goes into the ledger whole, so it is bounded. */
static bool check_draft(Call *own, const json_t *row)
{
    const json_t *draft = json_object_get(row, "draft");
    char *text = json_is_object(draft) ? json_dumps(draft, JSON_COMPACT) : NULL;
    size_t size = text != NULL ? strlen(text) : 0;

    free(text);
    return size <= DRAFT_BYTES_MAX ||
           call_fail(own, EXIT_DATA, "draft", "", "holds more than %d bytes beside what is taken",
                     DRAFT_BYTES_MAX);
}

/* One row as a call of its own; false with what is wrong added to faults. */
static bool read_row(Job *job, const Call *call, json_t *row, json_t *faults, ClientEntry *entry)
{
    Call own = {.body = row, .page = call->page, .desk = call->desk, .faults = faults};
    bool good = client_entry_read_new(job, &own, entry);

    if (check_draft(&own, row)) return good;
    client_entry_clear(entry);
    return false;
}

static json_t *judged(Job *job, const Call *call, json_t *row)
{
    g_auto(ClientEntry) entry = {0};
    json_t *faults = json_array();

    read_row(job, call, row, faults, &entry);
    const json_t *fields = entry.fields;
    return json_pack("{s:O?, s:o, s:o, s:O*, s:O*, s:O*}", "row", json_object_get(row, "row"),
                     "faults", faults, "alike", alike(job, fields), "phone",
                     json_object_get(fields, "phone"), "email", json_object_get(fields, "email"),
                     "born", json_object_get(fields, "born"));
}

/* Says of each row what is wrong with it and whom it is like, and writes nothing. */
bool handle_import_check(Job *job, Call *call)
{
    const json_t *rows = take_rows(call);
    json_t *list = json_array();
    json_t *row;
    size_t i;

    json_array_foreach(rows, i, row)
    {
        json_array_append_new(list, judged(job, call, row));
    }
    if (rows != NULL) return call_ok(call, list);
    json_decref(list);
    return false;
}

/* One row becomes a client. False after answering. */
static bool add_row(Job *job, Call *call, const char *import, json_t *row, uint64_t part)
{
    g_auto(ClientEntry) entry = {0};
    json_t *faults = json_array();
    bool good = read_row(job, call, row, faults, &entry);
    json_t *others = alike(job, entry.fields);
    g_autofree char *number = g_strdup_printf(
        "row %" G_GINT64_FORMAT, (int64_t)json_integer_value(json_object_get(row, "row")));
    const json_t *first = json_array_get(faults, 0);

    if (!good)
        call_fail(call, EXIT_DATA, number, json_string_value(json_object_get(first, "value")),
                  "%s %s", json_string_value(json_object_get(first, "what")),
                  json_string_value(json_object_get(first, "why")));
    else if (json_array_size(others) > 0 && !json_is_true(json_object_get(row, "alike")))
        good = call_fail(call, EXIT_DATA, number, json_string_value(json_object_get(row, "name")),
                         "somebody with this address has come in since");
    json_decref(faults);
    json_decref(others);
    if (!good) return false;
    json_object_set_new(entry.fields, "import", json_string(import));
    if (json_is_object(json_object_get(row, "draft")))
        json_object_set(entry.fields, "draft", json_object_get(row, "draft"));
    Call own = {.body = row};
    json_object_set(row, "by", json_object_get(call->body, "by"));
    g_free(client_put(job, &own, &entry, MIN(part, IMPORT_PARTS - 1), IMPORT_PARTS));
    return true;
}

/* rows: all of them are added, or none. */
bool handle_import_add(Job *job, Call *call)
{
    const char *import = call->id[0];
    const json_t *rows = take_rows(call);
    json_t *about = is_import_id(import) ? import_load(job, import) : NULL;
    json_t *row;
    size_t i;

    if (rows == NULL) {
        json_decref(about);
        return false;
    }
    if (!is_import_id(import)) return call_fail(call, EXIT_DATA, "import", import, "is no id");
    if (about == NULL)
        about = json_pack("{s:o, s:s, s:s, s:i, s:b, s:b}", "at", json_instant(job->now_ms), "by",
                          call_author(call), "file",
                          call_text(call, "file") != NULL ? call_text(call, "file") : "", "rows", 0,
                          "whole", 0, "undone", 0);
    if (json_is_true(json_object_get(about, "whole")) ||
        json_is_true(json_object_get(about, "undone"))) {
        json_decref(about);
        return call_fail(call, EXIT_DATA, "import", import, "has ended already");
    }
    json_int_t before = json_integer_value(json_object_get(about, "rows"));
    json_array_foreach(rows, i, row)
    {
        if (add_row(job, call, import, row, (uint64_t)before + i)) continue;
        json_decref(about);
        return false;
    }
    json_int_t count = before + (json_int_t)i;
    json_object_set_new(about, "rows", json_integer(count));
    import_keep(job, import, about);
    return call_ok(call, json_pack("{s:s, s:I}", "import", import, "rows", count));
}

/* The import that the path names, loaded; NULL after answering. */
static json_t *import_of(Job *job, Call *call)
{
    g_autofree char *id = g_ascii_strup(call->id[0], -1);
    json_t *about = import_load(job, id);

    if (about == NULL)
        call_fail(call, EXIT_NO_SUCH, "import", call->id[0],
                  "there is none of that id here; osier records imports lists them");
    g_free(call->id[0]);
    call->id[0] = g_steal_pointer(&id);
    return about;
}

/* The last row has been added. */
bool handle_import_end(Job *job, Call *call)
{
    json_t *about = import_of(job, call);

    if (about == NULL) return false;
    json_object_set_new(about, "whole", json_true());
    json_t *document = json_deep_copy(about);
    import_keep(job, call->id[0], about);
    return call_ok(call, document);
}

/* --- taking it back --------------------------------------------------------------------------- */

static void keep_number(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

/* Has anything been written about the client since the import, or was anything sent or received? */
static bool is_touched(Job *job, const char *client)
{
    int64_t later = 0, post = 0;

    /* The import wrote one client.set and, right after it, the consent. */
    tx_select(job->tx,
              "SELECT count(*) FROM event e JOIN setting s ON s.subject = e.subject AND s.field = "
              "'import' WHERE e.subject = ?1 AND NOT (e.replica = s.replica AND (e.seq = s.seq OR "
              "(e.seq = s.seq + 1 AND e.kind = 'client.consent' AND e.wall = s.wall)))",
              keep_number, &later, "t", client);
    tx_select(job->tx,
              "SELECT (SELECT count(*) FROM reply WHERE client = ?1) + (SELECT count(*) FROM "
              "outbox WHERE client = ?1)",
              keep_number, &post, "t", client);
    return later > 0 || post > 0;
}

static void redact(Job *job, Call *call, const char *import, json_t *also)
{
    if (json_array_size(also) == 0) return;
    tx_append(job->tx, "redacted", import, call_author(call), NULL,
              json_pack("{s:O}", "also", also));
    json_array_clear(also);
}

/* Takes the words about every client of the import out of the ledger, those apart about whom something was written since.
 * Their addresses may come in again. */
bool handle_import_undo(Job *job, Call *call)
{
    json_t *about = import_of(job, call);

    if (about == NULL) return false;
    g_autofree char *value = g_strdup_printf("\"%s\"", call->id[0]);
    g_autoptr(GPtrArray) ids = find_with_setting(job->tx, "import", value);
    json_t *also = json_array();
    json_t *left = json_array();
    json_int_t undone = 0;
    for (guint i = 0; i < ids->len; i++) {
        if (is_touched(job, ids->pdata[i])) {
            json_array_append_new(left, json_string(ids->pdata[i]));
            continue;
        }
        json_array_append_new(also, json_string(ids->pdata[i]));
        undone++;
        if (json_array_size(also) >= REDACT_MAX) redact(job, call, call->id[0], also);
    }
    redact(job, call, call->id[0], also);
    json_decref(also);
    json_object_set_new(about, "whole", json_true());
    json_object_set_new(about, "undone", json_true());
    import_keep(job, call->id[0], about);
    return call_ok(
        call, json_pack("{s:s, s:I, s:o}", "import", call->id[0], "undone", undone, "left", left));
}
