/* SPDX-License-Identifier: Apache-2.0 */
/* A snapshot as a file: rows of the tables that replicas share and the events, in frames that are packed each by itself. It comes
 * from another machine: whatever is read is bounded and checked, and nothing of it is SQL. Not for other rooms.
 *
 *   "osier snapshot 1\n", then frames: three numbers of four bytes, the length packed, unfolded, and of what cannot be packed; the
 *   frame by zlib; and salts and hashes, as they are. The first frame is the head. Those after it hold
 *   rows: a byte for the table (0: an event, else its TableId and one), and for each column a byte for what follows: nothing, a
 *   text with its length and a NUL, a number of eight bytes, the length of the next bytes of the other part, or the same as in the
 *   row of that table before it in the frame. A frame of no length is the end. */
#ifndef OSIER_ADAPTERS_STORE_SNAPSHOT_FILE_H
#define OSIER_ADAPTERS_STORE_SNAPSHOT_FILE_H

#include <gio/gio.h>

#include "core/ledger/event.h"
#include "core/ledger/hash.h"
#include "core/ledger/table.h"

#define SNAPSHOT_COLUMNS_MAX 48
/* No frame unfolds to more; a row that does not fit is not sent. */
#define SNAPSHOT_FRAME_MAX (4 * 1024 * 1024)

typedef enum { CELL_NULL, CELL_TEXT, CELL_INTEGER, CELL_REAL, CELL_BYTES, CELL_SAME } CellKind;

/* One value; text is NUL-ended, and lent until the next row. */
typedef struct {
    CellKind kind;
    const char *text; /* or bytes */
    size_t length;
    int64_t integer;
    double real;
} Cell;

/* Where the cells of the last row of one table lie in the frame at hand. */
typedef struct {
    bool known;
    struct {
        CellKind kind;
        size_t at, length;
    } cell[SNAPSHOT_COLUMNS_MAX];
} LastRow;

/* What is written or read; to be had by snapshot_out_begin and snapshot_in_begin. */
typedef struct {
    int file;
    GByteArray *frame; /* unfolded */
    GByteArray *raw;   /* the bytes of its rows */
    GByteArray *packed;
    GConverter *zlib;
    LastRow last[TABLE_COUNT + 1];
    Hash hash;      /* of all that was written */
    int64_t length; /* written */
    char *problem;  /* one line, or NULL */
} SnapshotOut;

/* Makes the file, mode 0600; one that is there already is a problem. head: bytes of the first frame. */
void snapshot_out_begin(SnapshotOut *out, const char *path, const GByteArray *head);
/* A row of a table (TABLE_COUNT: an event) with so many cells. */
void snapshot_out_row(SnapshotOut *out, TableId table, const Cell *cells, int count);
/* Ends the file and frees what out holds. NULL where all was written (g_free); digest is its SHA-256. */
char *snapshot_out_end(SnapshotOut *out, uint8_t digest[HASH_BYTES]);

typedef struct {
    int file;
    GByteArray *frame, *raw;
    size_t at, raw_at; /* in them */
    GByteArray *packed;
    GConverter *zlib;
    LastRow last[TABLE_COUNT + 1];
    bool ended;
    bool broken;
} SnapshotIn;

/* Opens it and reads the head, lent until the first row; NULL where it is none. */
const GByteArray *snapshot_in_begin(SnapshotIn *in, const char *path);
/* The next row: its table (TABLE_COUNT: an event) and its cells, as many as the table has columns and of their types, lent until the next call.
 * False at the end, or where in->broken. */
bool snapshot_in_row(SnapshotIn *in, TableId *table, Cell *cells);
void snapshot_in_end(SnapshotIn *in);

/* Columns of an event, in the order of ENGINE_EVENT_COLUMNS, and which kind each is. */
#define SNAPSHOT_EVENT_COLUMNS 12
extern const CellKind SNAPSHOT_EVENT_KINDS[SNAPSHOT_EVENT_COLUMNS];

/* Does the table travel? Each that is derived, and no other. */
bool snapshot_has_table(TableId table);

#endif
