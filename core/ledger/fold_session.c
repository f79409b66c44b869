/* SPDX-License-Identifier: Apache-2.0 */
/* Sessions and reports. What a session came to follows from what is known of it, by precedence and
 * in no order:
 *
 *     latest report that says done > excused > reminder failed > silent > unasked > asked
 */
#include "core/ledger/fold_part.h"

static const StampColumns LATEST = {SESSION_R_WALL, SESSION_R_LOGICAL, SESSION_R_REPLICA,
                                    SESSION_R_SEQ};

static const char *outcome_of_report(const char *done)
{
    static const struct {
        const char *done, *outcome;
    } OUTCOMES[] = {
        {"yes", "done"}, {"done", "done"}, {"partly", "partly"}, {"no", "not"}, {"not", "not"}};

    for (size_t i = 0; done != NULL && i < G_N_ELEMENTS(OUTCOMES); i++)
        if (strcmp(OUTCOMES[i].done, done) == 0) return OUTCOMES[i].outcome;
    return NULL;
}

static const char *outcome(const Row *session)
{
    const char *reported = outcome_of_report(row_text(session, SESSION_DONE));
    const char *closed = row_text(session, SESSION_CLOSED);

    if (reported != NULL) return reported;
    if (closed != NULL && strchr(closed, 'e') != NULL) return "excused";
    if (row_int(session, SESSION_FAILED) != 0) return "unasked";
    if (closed != NULL && strchr(closed, 's') != NULL) return "silent";
    if (closed != NULL) return "unasked";
    return row_is_null(session, SESSION_ASKED_AT) ? "planned" : "asked";
}

static void put_session(const Fold *fold, Row *session)
{
    row_set_text(session, SESSION_STATE, outcome(session));
    fold_put(fold, session);
}

/* Where and when the session is. Being asked tells it best, and the first asking counts; else any
 * that tells. */
static void join_place(const Fold *fold, Row *session, bool asked)
{
    static const int PLACE[] = {SESSION_ASKED_AT,
                                SESSION_DATE,
                                SESSION_SLOT,
                                SESSION_LOCAL,
                                SESSION_ZONE,
                                SESSION_UTC,
                                SESSION_STAGE,
                                SESSION_PROGRAMME,
                                SESSION_MESSAGE,
                                SESSION_CLIENT,
                                -1};
    g_autoptr(Row) told = row_copy(session);

    row_set_text(told, SESSION_CLIENT, fold->event->subject);
    fold_set(fold, told, SESSION_DATE, "date");
    fold_set(fold, told, SESSION_SLOT, "slot");
    fold_set(fold, told, SESSION_LOCAL, "local");
    fold_set(fold, told, SESSION_ZONE, "zone");
    fold_set(fold, told, SESSION_UTC, "utc");
    fold_set(fold, told, SESSION_STAGE, "stage");
    fold_set(fold, told, SESSION_PROGRAMME, "programme");
    row_set_null(told, SESSION_MESSAGE);
    row_set_null(told, SESSION_ASKED_AT);
    if (asked) {
        fold_set(fold, told, SESSION_MESSAGE, "message");
        row_set_int(told, SESSION_ASKED_AT, fold_at(fold));
    }
    fold_join(session, told, PLACE, UNIT_LEAST);
}

bool fold_is_failed_reminder(const Row *message)
{
    static const char *const FAILED[] = {"lapsed", "refused", "failed", "unsure", NULL};
    const char *kind = row_text(message, MESSAGE_KIND), *fate = row_text(message, MESSAGE_FATE);

    return kind != NULL && strcmp(kind, "reminder") == 0 && fate != NULL &&
           g_strv_contains(FAILED, fate);
}

void fold_session_failure(Row *session, const Row *message)
{
    bool is_its = g_strcmp0(row_text(message, MESSAGE_SESSION), row_text(session, SESSION_ID)) == 0;

    row_set_int(session, SESSION_FAILED, is_its && fold_is_failed_reminder(message));
    row_set_text(session, SESSION_STATE, outcome(session));
}

/* The reminder's fate may have come before the asking. */
static void find_failure(const Fold *fold, Row *session)
{
    const char *message = row_text(session, SESSION_MESSAGE);

    if (message == NULL) {
        row_set_int(session, SESSION_FAILED, 0);
        return;
    }
    g_autoptr(Row) row = fold_row(fold, TABLE_MESSAGE, message);
    fold_session_failure(session, row);
}

static void ask(const Fold *fold, const char *id)
{
    g_autoptr(Row) session = fold_row(fold, TABLE_SESSION, id);

    join_place(fold, session, true);
    find_failure(fold, session);
    put_session(fold, session);
}

static void close_as(const Fold *fold, const char *id, char letter)
{
    g_autoptr(Row) session = fold_row(fold, TABLE_SESSION, id);
    const char *before = row_text(session, SESSION_CLOSED);
    char letters[4] = "";
    int count = 0;

    for (const char *each = "esu"; *each != '\0'; each++)
        if (*each == letter || (before != NULL && strchr(before, *each) != NULL))
            letters[count++] = *each;
    row_set_text(session, SESSION_CLOSED, letters);
    join_place(fold, session, false);
    put_session(fold, session);
}

static char letter_of(const char *as)
{
    static const char *const OUTCOMES[] = {"excused", "silent", "unasked", NULL};

    return as != NULL && g_strv_contains(OUTCOMES, as) ? as[0] : '\0';
}

static void put_report(const Fold *fold)
{
    static const struct {
        int column;
        const char *name;
    } FIELDS[] = {
        {REPORT_SESSION, "session"}, {REPORT_DONE, "done"}, {REPORT_INTENSITY, "intensity"},
        {REPORT_PAIN, "pain"},       {REPORT_BY, "by"},     {REPORT_REPLY, "reply"},
        {REPORT_WORDS, "words"},
    };
    g_autoptr(Row) report = fold_own_row(fold, TABLE_REPORT);

    row_set_text(report, REPORT_CLIENT, fold->event->subject);
    row_set_int(report, REPORT_AT, fold_at(fold));
    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++)
        fold_set(fold, report, FIELDS[i].column, FIELDS[i].name);
    fold_put(fold, report);
}

/* A report that leaves open whether the session was done settles nothing. */
static void settle_by_report(const Fold *fold, const char *id)
{
    g_autoptr(Row) session = fold_row(fold, TABLE_SESSION, id);

    join_place(fold, session, false);
    if (fold_is_later(fold, session, LATEST)) {
        row_set_text(session, SESSION_REPORT, fold->id);
        fold_set(fold, session, SESSION_DONE, "done");
        fold_set_stamp(fold, session, LATEST);
    }
    put_session(fold, session);
}

bool fold_session(const Fold *fold)
{
    const char *kind = fold->event->kind;
    const char *id = fold_text(fold, "session");

    if (strcmp(kind, "session.asked") == 0) {
        if (id != NULL) ask(fold, id);
    } else if (strcmp(kind, "session.closed") == 0) {
        char letter = letter_of(fold_text(fold, "as"));

        if (id != NULL && letter != '\0') close_as(fold, id, letter);
    } else if (strcmp(kind, "report.made") == 0) {
        if (fold->body != NULL) put_report(fold);
        if (id != NULL && outcome_of_report(fold_text(fold, "done")) != NULL)
            settle_by_report(fold, id);
    } else {
        return false;
    }
    return true;
}
