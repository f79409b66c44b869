/* SPDX-License-Identifier: Apache-2.0 */
/* Alerts: opened, passed on, taken, closed. The state is the furthest that any event tells of:
 *
 *     open -> taken -> closed
 *
 * whatever order they come in. Of two that open one alert the first is told, of two that take or
 * close it the last. */
#include "core/ledger/fold_part.h"

static void join_opened(const Fold *fold, Row *alert)
{
    static const struct {
        int column;
        const char *name;
    } FIELDS[] = {
        {ALERT_CODE, "code"},   {ALERT_CLIENT, "client"},   {ALERT_KIND, "kind"},
        {ALERT_CLASS, "class"}, {ALERT_REASONS, "reasons"}, {ALERT_CAUSE, "cause"},
    };
    int columns[G_N_ELEMENTS(FIELDS) + 2] = {ALERT_AT};
    g_autoptr(Row) told = row_copy(alert);

    row_set_int(told, ALERT_AT, fold_at(fold));
    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        if (FIELDS[i].column == ALERT_CLIENT)
            fold_set_client(fold, told, ALERT_CLIENT, FIELDS[i].name);
        else
            fold_set(fold, told, FIELDS[i].column, FIELDS[i].name);
        columns[i + 1] = FIELDS[i].column;
    }
    columns[G_N_ELEMENTS(FIELDS) + 1] = -1;
    fold_join(alert, told, columns, UNIT_LEAST);
    row_set_int(alert, ALERT_OPENED, 1);
}

/* Each passing has a row, by which a repeat is known and counted once. */
static void join_passed(const Fold *fold, Row *alert)
{
    g_autoptr(Row) pass = fold_row(fold, TABLE_PASS, fold->id);

    if (!row_is_null(pass, PASS_ALERT)) return;
    row_set_text(pass, PASS_ALERT, fold->event->subject);
    row_set_int(pass, PASS_AT, fold_at(fold));
    fold_set(fold, pass, PASS_TO, "to");
    fold_set(fold, pass, PASS_ROUND, "round");
    fold_put(fold, pass);
    row_set_int(alert, ALERT_PASSED, row_int(alert, ALERT_PASSED) + 1);
    if (row_is_null(alert, ALERT_PASSED_AT) || row_int(alert, ALERT_PASSED_AT) < fold_at(fold))
        row_set_int(alert, ALERT_PASSED_AT, fold_at(fold));
}

static void join_taken(const Fold *fold, Row *alert)
{
    static const int TAKEN[] = {ALERT_TAKEN_AT, ALERT_TAKEN_BY, ALERT_TAKEN_VIA, -1};
    g_autoptr(Row) told = row_copy(alert);

    row_set_int(told, ALERT_TAKEN_AT, fold_at(fold));
    fold_set(fold, told, ALERT_TAKEN_BY, "by");
    if (row_is_null(told, ALERT_TAKEN_BY)) row_set_text(told, ALERT_TAKEN_BY, fold->event->author);
    fold_set(fold, told, ALERT_TAKEN_VIA, "via");
    fold_join(alert, told, TAKEN, UNIT_GREATEST);
}

static void join_closed(const Fold *fold, Row *alert)
{
    static const int CLOSED[] = {ALERT_CLOSED_AT, ALERT_CLOSED_BY, ALERT_OUTCOME, ALERT_NOTE, -1};
    g_autoptr(Row) told = row_copy(alert);

    row_set_int(told, ALERT_CLOSED_AT, fold_at(fold));
    fold_set(fold, told, ALERT_CLOSED_BY, "by");
    fold_set(fold, told, ALERT_OUTCOME, "outcome");
    fold_set(fold, told, ALERT_NOTE, "note");
    fold_join(alert, told, CLOSED, UNIT_GREATEST);
}

static const char *state(const Row *alert)
{
    if (!row_is_null(alert, ALERT_CLOSED_AT)) return "closed";
    return row_is_null(alert, ALERT_TAKEN_AT) ? "open" : "taken";
}

bool fold_alert(const Fold *fold)
{
    static const struct {
        const char *kind;
        void (*join)(const Fold *fold, Row *alert);
    } KINDS[] = {
        {"alert.opened", join_opened},
        {"alert.passed", join_passed},
        {"alert.taken", join_taken},
        {"alert.closed", join_closed},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(KINDS); i++) {
        if (strcmp(KINDS[i].kind, fold->event->kind) != 0) continue;
        if (fold->body == NULL) return true;
        g_autoptr(Row) alert = fold_row(fold, TABLE_ALERT, fold->event->subject);
        KINDS[i].join(fold, alert);
        row_set_text(alert, ALERT_STATE, state(alert));
        fold_put(fold, alert);
        return true;
    }
    return false;
}
