/* SPDX-License-Identifier: Apache-2.0 */
/* What goes with a client who is erased, on each sort of store: what speaks of that client, and nothing of anybody else's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "daemon/jobs/erase_also.h"
#include "tests/support/store_bench.h"

#define PHONE "+447700900417"

static bool speaks(const char *text, const char *of)
{
    json_t *document = json_pack("{s:i, s:[s]}", "at", 1, "texts", text);
    g_autoptr(GPtrArray) texts = g_ptr_array_new();

    g_ptr_array_add(texts, (char *)of);
    bool does = erase_speaks_of(document, texts);
    json_decref(document);
    return does;
}

static void a_name_is_found_as_words_of_its_own(void **state)
{
    (void)state;
    assert_true(speaks("Al: 3 of 5", "Al"));
    assert_true(speaks("ring\nal, then Bo", "Al"));
    assert_true(speaks("Frau Ångström fehlt", "ångström"));
    assert_true(speaks("also Al", "Al"));
    assert_true(speaks("ask at " PHONE ".", PHONE));
    assert_false(speaks("a fall in the hall", "Al"));
    assert_false(speaks("Ålsund", "Ål"));
    assert_false(speaks(PHONE "5", PHONE));
    assert_false(speaks("rate 80 %", "%"));
    assert_false(speaks("axb@clinic.example", "a_b@clinic.example"));
    assert_false(speaks("anything", ""));
}

static void client(Tx *tx, const char *id, const char *name)
{
    tx_append(tx, "client.set", id, "R. Okafor", NULL,
              json_pack("{s:{s:s, s:s}}", "fields", "name", name, "phone",
                        strcmp(id, "C1") == 0 ? PHONE : "+447700900418"));
}

static void reply(Tx *tx, const char *id, const char *from, const char *words, const char *of)
{
    tx_append(tx, "reply.received", id, "client", NULL,
              json_pack("{s:s, s:s, s:s, s:I}", "channel", "sms", "from", from, "text", words, "at",
                        (json_int_t)BENCH_MORNING));
    tx_append(tx, "reply.read", id, "osier", NULL,
              json_pack("{s:s?, s:s}", "client", of, "state", of != NULL ? "read" : "unread"));
}

static void alert(Tx *tx, const char *id, const char *of, const char *words)
{
    tx_append(tx, "alert.opened", id, "osier", NULL,
              json_pack("{s:s?, s:s, s:s, s:s, s:I, s:s}", "client", of, "kind", "fall", "class",
                        "now", "code", id, "at", (json_int_t)BENCH_MORNING, "words", words));
}

static bool live(Tx *tx, void *context)
{
    (void)context;
    client(tx, "C1", "Al \"Q\" B.");
    client(tx, "C2", "Ada N.");
    reply(tx, "R1", PHONE, "did them", "C1");
    reply(tx, "R2", "+447700900418", "Al \"Q\" B. did his too", "C2");
    reply(tx, "R3", PHONE, "from my husband's phone", "C2");
    reply(tx, "R4", PHONE, "who is this?", NULL);
    reply(tx, "R5", "+447700900419", "a ball", NULL);
    reply(tx, "R6", "+447700900419", "al \"q\" b. is in hospital", NULL);
    alert(tx, "A1", "C1", "fell");
    alert(tx, "A2", "C2", "fell on Al \"Q\" B.");
    alert(tx, "A3", "clinic", "no text reaches Al \"Q\" B.");
    tx_append(tx, "digest.sent", "2026-02-23", "osier", NULL,
              json_pack("{s:s}", "text", "Al \"Q\" B.: 3 of 5"));
    tx_append(tx, "digest.sent", "2026-02-16", "osier", NULL,
              json_pack("{s:s}", "text", "all well"));
    return true;
}

static void keep_subject(const TxResult *result, void *context)
{
    g_ptr_array_add(context, g_strconcat(result->text[0], "/", result->text[1], NULL));
}

/* Ids as they are, single events as SUBJECT/KIND. */
static bool look(Tx *tx, void *found)
{
    Job job = {.tx = tx};
    Person person = {.id = (char *)"C1", .name = (char *)"Al \"Q\" B.", .address = {(char *)PHONE}};
    json_t *also = erase_also(&job, &person);
    size_t i;
    json_t *item;

    json_array_foreach(also, i, item)
    {
        g_auto(GStrv) parts = g_strsplit(json_string_value(item), ":", 2);
        if (parts[1] == NULL)
            g_ptr_array_add(found, g_strdup(parts[0]));
        else
            tx_select(tx, "SELECT subject, kind FROM event WHERE replica = ?1 AND seq = ?2",
                      keep_subject, found, "ti", parts[0], g_ascii_strtoll(parts[1], NULL, 10));
    }
    json_decref(also);
    return true;
}

static gint by_text(gconstpointer a, gconstpointer b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void what_is_of_another_client_stays(void **state)
{
    static const BenchSort SORTS[] = {BENCH_MEMORY, BENCH_SQLITE, BENCH_POSTGRES};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SORTS); i++) {
        Bench *bench = bench_open(SORTS[i]);
        g_autoptr(GPtrArray) found = g_ptr_array_new_with_free_func(g_free);

        assert_int_equal(bench_do(bench, live, NULL), STORE_OK);
        assert_int_equal(bench_do(bench, look, found), STORE_OK);
        g_ptr_array_sort(found, by_text);
        g_ptr_array_add(found, NULL);
        g_autofree char *all = g_strjoinv(" ", (char **)found->pdata);
        assert_string_equal(all, "2026-02-23/digest.sent A1 A3/alert.opened R1 R3/reply.received "
                                 "R4 R4/reply.received R6/reply.received");
        bench_close(bench);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_name_is_found_as_words_of_its_own),
        cmocka_unit_test(what_is_of_another_client_stays),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
