/* SPDX-License-Identifier: Apache-2.0 */
/* One bit of the store's file is flipped behind osier's back. `osier check` finds it, or nothing that the ledger and its tables
 * say has changed: no flip is missed. OSIER_TEST_LONG=1: a hundred thousand flips. */
#define _GNU_SOURCE /* memmem */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>
#include <unistd.h>

#include "tests/support/store_bench.h"

#define FLIPS 300
#define FLIPS_LONG 100000
#define SEED 20260302u

typedef struct {
    Bench *bench;
    int file; /* the store's */
    char *bytes;
    gsize length;
    char *says; /* what the events and the tables say, when nothing is flipped */
} Specimen;

static bool live_a_morning(Tx *tx, void *context)
{
    (void)context;
    for (int i = 0; i < 12; i++) {
        g_autofree char *client = g_strdup_printf("ADA%d", i % 3);
        g_autofree char *session = g_strdup_printf("S%d", i);
        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s,s:i}}", "fields", "name", client, "age", i));
        tx_append(tx, "session.asked", client, "osier", NULL,
                  json_pack("{s:s,s:s,s:i,s:i}", "session", session, "date", "2026-03-02", "slot",
                            1, "at", 1));
        tx_append(tx, "report.made", client, "client", NULL,
                  json_pack("{s:s,s:s,s:i,s:s,s:i}", "session", session, "done", "yes", "intensity",
                            4, "pain", "0", "at", 1));
    }
    return true;
}

static void print_row(GString *says, sqlite3_stmt *statement)
{
    for (int i = 0; i < sqlite3_column_count(statement); i++) {
        const void *bytes = sqlite3_column_blob(statement, i);
        int length = sqlite3_column_bytes(statement, i);
        g_string_append_printf(says, "%d:%d:", sqlite3_column_type(statement, i), length);
        if (length > 0) g_string_append_len(says, bytes, length);
    }
    g_string_append_c(says, '\n');
}

/* Every row of every table that the ledger gives, its own included; NULL where SQLite cannot read one. Indexes are not used:
 * they say nothing of their own. */
static char *read_all(const char *path)
{
    GString *says = g_string_new(NULL);
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    bool whole = sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK &&
                 sqlite3_exec(db, "PRAGMA locking_mode = EXCLUSIVE", NULL, NULL, NULL) == SQLITE_OK;

    for (int id = -1; whole && id < TABLE_COUNT; id++) {
        if (id >= 0 && table_of((TableId)id)->local) continue;
        const char *name = id < 0 ? "event" : table_of((TableId)id)->name;
        g_autofree char *sql = g_strdup_printf("SELECT * FROM \"%s\" NOT INDEXED", name);
        int code = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
        g_string_append_printf(says, "%s\n", name);
        while (code == SQLITE_OK && (code = sqlite3_step(statement)) == SQLITE_ROW) {
            print_row(says, statement);
            code = SQLITE_OK;
        }
        whole = code == SQLITE_DONE;
        sqlite3_finalize(statement);
        statement = NULL;
    }
    sqlite3_close(db);
    return g_string_free(says, !whole);
}

static void lay_out(const Specimen *specimen)
{
    g_autofree char *log = g_strconcat(specimen->bench->path, "-wal", NULL);
    g_autofree char *journal = g_strconcat(specimen->bench->path, "-journal", NULL);

    g_unlink(log);
    g_unlink(journal);
    assert_int_equal(ftruncate(specimen->file, (off_t)specimen->length), 0);
    assert_int_equal(pwrite(specimen->file, specimen->bytes, specimen->length, 0),
                     specimen->length);
}

static bool is_found(const Specimen *specimen)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;
    OpenResult result = store_sqlite_check(specimen->bench->path, false, findings, &events, &why);

    return result != OPEN_OK || findings->len > 0;
}

/* True where check found the flip. */
static bool try_flip(Specimen *specimen, gsize at, int bit)
{
    specimen->bytes[at] ^= (char)(1 << bit);
    lay_out(specimen);
    bool found = is_found(specimen);
    if (!found) {
        lay_out(specimen);
        g_autofree char *says = read_all(specimen->bench->path);
        if (g_strcmp0(says, specimen->says) != 0)
            fail_msg("byte %zu bit %d: missed, though a row reads otherwise", (size_t)at, bit);
    }
    specimen->bytes[at] ^= (char)(1 << bit);
    return found;
}

static Specimen specimen_new(void)
{
    Specimen specimen = {.bench = bench_open(BENCH_SQLITE)};

    assert_int_equal(bench_do(specimen.bench, live_a_morning, NULL), STORE_OK);
    bench_shut(specimen.bench);
    assert_true(g_file_get_contents(specimen.bench->path, &specimen.bytes, &specimen.length, NULL));
    specimen.file = open(specimen.bench->path, O_RDWR | O_CLOEXEC);
    specimen.says = read_all(specimen.bench->path);
    assert_non_null(specimen.says);
    return specimen;
}

static void specimen_free(Specimen *specimen)
{
    lay_out(specimen);
    close(specimen->file);
    bench_close(specimen->bench);
    g_free(specimen->bytes);
    g_free(specimen->says);
}

/* Much of a small store is empty room: every other flip falls on what is not. */
static gsize draw_place(const Specimen *specimen, GRand *random)
{
    bool anywhere = g_rand_boolean(random);
    gsize at;

    do
        at = (gsize)g_rand_int_range(random, 0, (gint32)specimen->length);
    while (!anywhere && specimen->bytes[at] == 0);
    return at;
}

static void no_flip_is_missed(void **state)
{
    Specimen specimen = specimen_new();
    g_autoptr(GRand) random = g_rand_new_with_seed(SEED);
    int flips = g_getenv("OSIER_TEST_LONG") != NULL ? FLIPS_LONG : FLIPS;
    int found = 0;

    (void)state;
    for (int i = 0; i < flips; i++)
        found += try_flip(&specimen, draw_place(&specimen, random), g_rand_int_range(random, 0, 8));
    print_message("%d flips in %zu bytes: %d found, %d changed nothing that is said, 0 missed\n",
                  flips, (size_t)specimen.length, found, flips - found);
    specimen_free(&specimen);
}

/* Every byte of one event: its texts, salt and hashes as they lie in the file. */
static void every_byte_of_an_event_counts(void **state)
{
    Specimen specimen = specimen_new();
    static const char BODY[] = "{\"fields\":{\"age\":9,\"name\":\"ADA0\"}}";
    const char *body = memmem(specimen.bytes, specimen.length, BODY, strlen(BODY));

    (void)state;
    assert_non_null(body);
    /* Behind the body lie its hash and the digest; before it the salt (the order of the columns). */
    gsize from = (gsize)(body - specimen.bytes) - SALT_BYTES;
    gsize to = from + SALT_BYTES + strlen(BODY) + 2 * DIGEST_BYTES;
    for (gsize at = from; at < to; at++)
        assert_true(try_flip(&specimen, at, (int)(at % 8)));
    specimen_free(&specimen);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_byte_of_an_event_counts),
        cmocka_unit_test(no_flip_is_missed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
