/* SPDX-License-Identifier: Apache-2.0 */
/* What the parts of the fold share. Every row is a join of what its events say: the same for any
 * order and any repeats. Three ways are used: a register (the greater stamp wins), a unit (of
 * differing versions the lesser or greater whole wins) and a row that one event alone writes. */
#ifndef OSIER_CORE_LEDGER_FOLD_PART_H
#define OSIER_CORE_LEDGER_FOLD_PART_H

#include "core/ledger/fold.h"
#include "core/ledger/row.h"

/* One event under the fold. */
typedef struct {
    const FoldTables *tables;
    const Event *event;
    const json_t *body; /* NULL where redacted */
    char id[64];        /* the event's id */
} Fold;

/* Columns of a row that hold a stamp: wall, logical, replica, seq. */
typedef struct {
    int wall, logical, replica, seq;
} StampColumns;

/* Is the event's stamp greater than the one in the row? An unset stamp is the least. */
bool fold_is_later(const Fold *fold, const Row *row, StampColumns at);
void fold_set_stamp(const Fold *fold, Row *row, StampColumns at);

/* The row of a one-text key, or a fresh one with that key. The caller's. */
Row *fold_row(const Fold *fold, TableId table, const char *key);
/* The row that this event alone writes, its key the event's id: there is nothing to look up. The caller's. */
Row *fold_own_row(const Fold *fold, TableId table);
void fold_put(const Fold *fold, const Row *row);

/* A string's text, or NULL for what is no string or has a NUL byte in it. */
const char *fold_string(const json_t *value);

/* A field of the body, or NULL. */
const char *fold_text(const Fold *fold, const char *name);
const json_t *fold_value(const Fold *fold, const char *name);

/* Copies a field of the body into a column by its type; leaves null what is absent or of another
 * type. In a text column objects and lists arrive as JSON, numbers in digits; in an integer column
 * true is 1. */
void fold_set(const Fold *fold, Row *row, int column, const char *name);

/* The instant of the event: its field at, or its wall time. */
int64_t fold_at(const Fold *fold);

/* JSON of any value in canonical form (g_free). */
char *fold_dump(const json_t *value);

typedef enum { UNIT_LEAST, UNIT_GREATEST } UnitChoice;

/* Of two versions of some columns that belong together keeps one in row. An unset first column
 * gives way to a set one; else the first column decides by choice; what is still equal goes to the
 * greater. columns ends with -1. */
void fold_join(Row *row, const Row *other, const int *columns, UnitChoice choice);

/* The parts. Each handles the kinds of its subject and returns false for others. */
bool fold_setting(const Fold *fold);
bool fold_contact(const Fold *fold);
bool fold_bar(const Fold *fold);
bool fold_practice(const Fold *fold);
bool fold_session(const Fold *fold);
bool fold_message(const Fold *fold);
bool fold_reply(const Fold *fold);
bool fold_alert(const Fold *fold);
bool fold_clinic(const Fold *fold);

/* The id that a client's id is kept under. */
const char *fold_one(const Fold *fold, const char *client);
/* fold_set for a field that names a client. */
void fold_set_client(const Fold *fold, Row *row, int column, const char *name);

/* What says that two ids are one client's. */
void fold_same(const Fold *fold);

/* What an erasure names and what bounds a stamp; other parts may handle the same event too. */
void fold_erased(const Fold *fold);
void fold_bounded(const Fold *fold);

/* Is it a reminder that did not get through? */
bool fold_is_failed_reminder(const Row *message);
/* What a message's row says of its session: called when either changes. */
void fold_session_failure(Row *session, const Row *message);

#endif
