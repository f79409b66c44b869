/* SPDX-License-Identifier: Apache-2.0 */
/* Who may enter the page. These calls are made on the socket alone: whoever may reach it is trusted
 * with the folder anyway. */
#include <string.h>

#include "adapters/page/password.h"
#include "adapters/store/find_access.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/alert.h"
#include "daemon/page/account.h"

#define NAME_CHARS 80
#define LINK_LIVES_MS (2 * DAY_MS)
#define LOOKS_MOST 2000

static bool is_closed(const Row *account)
{
    return account == NULL || !row_is_null(account, ACCOUNT_CLOSED_AT);
}

static json_t *account_json(const Row *account)
{
    const char *state = is_closed(account)                       ? "closed"
                        : row_is_null(account, ACCOUNT_PASSWORD) ? "invited"
                                                                 : "open";

    return json_pack("{s:s, s:s, s:s, s:o}", "name", row_text(account, ACCOUNT_NAME), "role",
                     row_text(account, ACCOUNT_ROLE), "state", state, "since",
                     json_instant(row_int(account, ACCOUNT_MADE_AT)));
}

bool handle_account_list(Job *job, Call *call)
{
    g_autoptr(GPtrArray) rows = find_accounts(job->tx);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, account_json(rows->pdata[i]));
    return call_ok(call, list);
}

/* The account that the path names, open. NULL after answering. */
static Row *named_account(Job *job, Call *call, const char *name)
{
    g_autofree char *key = account_key(name);
    g_autoptr(Row) account = tx_get_text(job->tx, TABLE_ACCOUNT, key);

    if (!is_closed(account)) return g_steal_pointer(&account);
    call_fail(call, EXIT_NO_SUCH, "account", name,
              account == NULL ? "there is none of that name" : "is closed");
    return NULL;
}

/* Gives the account a fresh one-time link; its password, if any, is void once the link is used. */
static bool answer_link(Job *job, Call *call, Row *account, json_t *warnings)
{
    g_autofree char *token = token_new();
    g_autofree char *hash = token_hash(token);
    const Clinic *clinic = job->clinic;
    int64_t end_ms = job->now_ms + LINK_LIVES_MS;

    row_set_text(account, ACCOUNT_INVITE, hash);
    row_set_int(account, ACCOUNT_INVITE_END, end_ms);
    tx_put(job->tx, account);
    g_autofree char *link =
        clinic->page_url != NULL
            ? g_strdup_printf("%s/#/welcome/%s", clinic->page_url, token)
            : g_strdup_printf("http://%s/#/welcome/%s", clinic->page_listen, token);
    json_t *document = account_json(account);
    json_object_set_new(document, "link", json_string(link));
    json_object_set_new(document, "until", json_instant(end_ms));
    json_object_set_new(document, "warnings", warnings);
    return call_ok(call, document);
}

bool handle_account_add(Job *job, Call *call)
{
    const char *name = call_need(call, "name", "the person's name, as it stands on the duty list");
    const char *role = name != NULL ? call_need(call, "role", "--role clinician|desk") : NULL;

    if (role == NULL || !call_words(call, "name", name, NAME_CHARS)) return false;
    g_autofree char *key = account_key(name);
    if (*key == '\0' || strchr(name, '\n') != NULL || strchr(name, '/') != NULL)
        return call_fail(call, EXIT_DATA, "name", name, "must be one line of words, without /");
    if (strcmp(role, "clinician") != 0 && strcmp(role, "desk") != 0)
        return call_fail(call, EXIT_USE, "role", role, "must be one of clinician, desk");
    g_autoptr(Row) before = tx_get_text(job->tx, TABLE_ACCOUNT, key);
    if (before != NULL)
        return call_fail(call, EXIT_DATA, "account", name,
                         is_closed(before)
                             ? "was closed; names of closed accounts are not used again, so that "
                               "the record stays true"
                             : "is there already; osier account link gives a new link");
    g_autoptr(Row) account = row_new(TABLE_ACCOUNT);
    g_autofree char *trimmed = g_strstrip(g_strdup(name));
    row_set_text(account, ACCOUNT_KEY, key);
    row_set_text(account, ACCOUNT_NAME, trimmed);
    row_set_text(account, ACCOUNT_ROLE, role);
    row_set_int(account, ACCOUNT_MADE_AT, job->now_ms);
    json_t *warnings = json_array();
    if (strcmp(role, "clinician") == 0 && !duty_lists(job->clinic, trimmed))
        json_array_append_new(
            warnings, json_string("nobody of exactly that name is on the duty list, so alerts do "
                                  "not call this person"));
    return answer_link(job, call, account, warnings);
}

bool handle_account_link(Job *job, Call *call)
{
    g_autoptr(Row) account = named_account(job, call, call->id[0]);

    return account != NULL && answer_link(job, call, account, json_array());
}

/* --- closing ------------------------------------------------------------------------------------ */

/* The clients whose treating clinician that is (ids). */
static GPtrArray *clients_of(Job *job, const char *name)
{
    json_t *text = json_string(name);
    g_autofree char *value = json_dumps(text, JSON_ENCODE_ANY);

    json_decref(text);
    return find_with_setting(job->tx, "plan.clinician", value);
}

/* Alerts that the person took and nobody has closed (Row). */
static GPtrArray *alerts_of(Job *job, const char *name)
{
    GPtrArray *alerts = find_alerts(job->tx, NULL, false);

    for (guint i = alerts->len; i-- > 0;)
        if (g_strcmp0(row_text(alerts->pdata[i], ALERT_TAKEN_BY), name) != 0)
            g_ptr_array_remove_index(alerts, i);
    return alerts;
}

static void hand_over(Job *job, const GPtrArray *clients, const GPtrArray *alerts, const char *to)
{
    for (guint i = 0; i < clients->len; i++)
        tx_append(job->tx, "plan.set", clients->pdata[i], "command", NULL,
                  json_pack("{s:{s:s}}", "fields", "clinician", to));
    for (guint i = 0; i < alerts->len; i++)
        alert_take(job, row_text(alerts->pdata[i], ALERT_ID), to, "handover");
}

char *clinician_named(Job *job, const char *name)
{
    g_autofree char *key = account_key(name);
    g_autoptr(Row) account = tx_get_text(job->tx, TABLE_ACCOUNT, key);

    if (!is_closed(account) && strcmp(row_text(account, ACCOUNT_ROLE), "clinician") == 0)
        return g_strdup(row_text(account, ACCOUNT_NAME));
    return duty_lists(job->clinic, name) ? g_strdup(name) : NULL;
}

/* Whoever takes over is a clinician of the clinic. The name as it is written there (g_free); NULL after answering. */
static char *successor(Job *job, Call *call, const Row *leaving, const char *to)
{
    g_autofree char *key = account_key(to);

    if (strcmp(key, row_text(leaving, ACCOUNT_KEY)) == 0) {
        call_fail(call, EXIT_USE, "to", to, "is the account that is to be closed");
        return NULL;
    }
    char *name = clinician_named(job, to);
    if (name != NULL) return name;
    call_fail(call, EXIT_DATA, "to", to,
              "is neither a clinician with an account nor on the duty list");
    return NULL;
}

bool handle_account_close(Job *job, Call *call)
{
    g_autoptr(Row) account = named_account(job, call, call->id[0]);
    const char *to = call_text(call, "to");

    if (account == NULL) return false;
    const char *name = row_text(account, ACCOUNT_NAME);
    g_autoptr(GPtrArray) clients = clients_of(job, name);
    g_autoptr(GPtrArray) alerts = alerts_of(job, name);
    if (to == NULL && clients->len + alerts->len > 0)
        return call_fail(call, EXIT_USE, "to", "",
                         "is needed: %s treats %u clients and has taken %u open alerts; say who "
                         "takes them over with --to NAME",
                         name, clients->len, alerts->len);
    g_autofree char *next = to != NULL ? successor(job, call, account, to) : NULL;
    if (to != NULL && next == NULL) return false;
    if (next != NULL) hand_over(job, clients, alerts, next);
    row_set_null(account, ACCOUNT_PASSWORD);
    row_set_null(account, ACCOUNT_INVITE);
    row_set_int(account, ACCOUNT_CLOSED_AT, job->now_ms);
    tx_put(job->tx, account);
    return call_ok(call, json_pack("{s:s, s:s, s:I, s:I, s:o}", "account", name, "state", "closed",
                                   "clients_moved", (json_int_t)clients->len, "alerts_moved",
                                   (json_int_t)alerts->len, "to", json_text_or_null(next)));
}

/* --- who looked --------------------------------------------------------------------------------- */

bool handle_looks(Job *job, Call *call)
{
    const char *named = call_text(call, "client");
    const char *since = call_text(call, "since");
    g_autofree char *client = NULL;
    int64_t since_ms = 0;

    if (since != NULL && !instant_parse(since, &since_ms))
        return call_fail(call, EXIT_DATA, "since", since,
                         "is no instant; write it as 2026-03-02T08:00:00Z");
    if (named != NULL) {
        g_free(call->id[0]);
        call->id[0] = g_strdup(named);
        g_autoptr(Person) person = call_person(job, call);
        if (person == NULL) return false;
        client = g_strdup(person->id);
    }
    g_autoptr(GPtrArray) rows = find_looks(job->tx, client, since_ms, LOOKS_MOST);
    json_t *list = json_array();
    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        json_array_append_new(list, json_pack("{s:o, s:s, s:o, s:s, s:s}", "at",
                                              json_instant(row_int(row, LOOK_AT)), "by",
                                              row_text(row, LOOK_BY), "client",
                                              json_text_or_null(row_text(row, LOOK_CLIENT)), "did",
                                              row_int(row, LOOK_CHANGE) != 0 ? "changed" : "looked",
                                              "call", row_text(row, LOOK_WHAT)));
    }
    return call_ok(call, list);
}
