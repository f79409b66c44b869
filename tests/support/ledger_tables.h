/* SPDX-License-Identifier: Apache-2.0 */
/* Derived tables in memory, for the fold to fill, and random histories of events. */
#ifndef OSIER_TESTS_SUPPORT_LEDGER_TABLES_H
#define OSIER_TESTS_SUPPORT_LEDGER_TABLES_H

#include "core/ledger/fold.h"
#include "core/ledger/same.h"

typedef struct {
    GHashTable *rows; /* key as text -> Row */
    Same *same;       /* which ids are one client's */
} LedgerTables;

LedgerTables *ledger_tables_new(void);
void ledger_tables_free(LedgerTables *tables);

FoldTables ledger_tables_fold(LedgerTables *tables);

/* Notes what an event says of ids that are one client's: for every event, before any is folded. */
void ledger_tables_note(LedgerTables *tables, const Event *event);

/* The row of a table whose key is one text; lent. */
const Row *ledger_tables_row(LedgerTables *tables, TableId table, const char *key);
/* Of a table whose key is two texts. */
const Row *ledger_tables_pair(LedgerTables *tables, TableId table, const char *first,
                              const char *second);

/* Every row as a line, in order (g_free). */
char *ledger_tables_dump(LedgerTables *tables);

/* An event with these parts; body is JSON, or NULL for a redacted one. */
Event *ledger_event(const char *replica, int64_t seq, int64_t wall, const char *kind,
                    const char *subject, const char *body);

/* count events of every kind by so many replicas, about few people, so that they meet; some repeat
 * fields, lack them, have the wrong type or are redacted (GPtrArray of Event). */
GPtrArray *ledger_history(GRand *random, int replicas, int count);

/* One such event's parts: the body is JSON; kind is static, subject and body the caller's to g_free. */
char *ledger_draw(GRand *random, const char **kind, char **subject);

#endif
