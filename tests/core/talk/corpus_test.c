/* SPDX-License-Identifier: Apache-2.0 */
/* What the reader must reach on the labelled replies that it is worked on with. Those kept aside
 * are only checked for their form: `make replies` gives their figures. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "tests/support/replies.h"

static const struct {
    const char *language;
    int dev, kept; /* lines at least */
} CORPORA[] = {{"en", 420, 210}, {"es", 170, 85}, {"fr", 140, 70}};

/* The languages whose reading has reached its floors. */
static const char *const HELD[] = {"en", "es", "fr"};

/* The caller frees. */
static ReplyCorpus *corpus(const char *language, const char *part)
{
    g_autofree char *path = g_strdup_printf("tests/core/talk/%s-%s.tsv", language, part);
    char *fault = NULL;
    ReplyCorpus *read = replies_load(path, &fault);

    if (read == NULL) fail_msg("%s: %s", path, fault);
    return read;
}

static int count_new(const ReplyCorpus *read, GHashTable *ids, GHashTable *texts)
{
    for (guint i = 0; i < read->lines->len; i++) {
        const LabelledReply *reply = read->lines->pdata[i];
        if (!g_hash_table_add(ids, g_strdup(reply->id))) fail_msg("%s: stands twice", reply->id);
        if (!g_hash_table_add(texts, g_strdup(reply->text)))
            fail_msg("%s: its text stands twice", reply->id);
    }
    return (int)read->lines->len;
}

static void every_reply_is_labelled_and_stands_once(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CORPORA); i++) {
        g_autoptr(ReplyCorpus) dev = corpus(CORPORA[i].language, "dev");
        g_autoptr(ReplyCorpus) kept = corpus(CORPORA[i].language, "kept");
        g_autoptr(GHashTable) ids = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
        g_autoptr(GHashTable) texts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
        assert_true(count_new(dev, ids, texts) >= CORPORA[i].dev);
        g_hash_table_remove_all(texts); /* the shortest replies, "3", are in both parts */
        assert_true(count_new(kept, ids, texts) >= CORPORA[i].kept);
        assert_true(kept->kept && !dev->kept);
    }
}

static void a_number_stands_in_digits_or_in_words(void **state)
{
    (void)state;
    assert_true(replies_number_stands("about a 4, no pain", 4));
    assert_true(replies_number_stands("4,5 y nada", 4.5));
    assert_true(replies_number_stands("٥ ٠", 5));
    assert_true(replies_number_stands("4️⃣", 4));
    assert_true(replies_number_stands("Cinq, merci", 5));
    assert_true(replies_number_stands("at 10", 10));
    assert_false(replies_number_stands("at 10", 1));
    assert_false(replies_number_stands("no pain", 0));
    assert_false(replies_number_stands("someone", 1));
    assert_false(replies_number_stands("", 0));
}

static void expect(const char *name, const char *what, double got, double least)
{
    if (got < least)
        fail_msg("%s: %s is %.1f %%, and %.1f %% is the least", name, what, got, least);
}

static double percent(int part, int whole)
{
    return whole > 0 ? 100.0 * part / whole : 100.0;
}

static void hold_floors(const ReplyCorpus *read, const ReplyTally *tally)
{
    expect(read->name, "done", percent(tally->right[REPLY_DONE], tally->lines), 97);
    expect(read->name, "intensity", percent(tally->right[REPLY_INTENSITY], tally->lines), 97);
    expect(read->name, "pain", percent(tally->right[REPLY_PAIN], tally->lines), 97);
    expect(read->name, "commands", percent(tally->right[REPLY_COMMAND], tally->lines), 100);
    expect(read->name, "person", percent(tally->right[REPLY_PERSON], tally->lines), 93);
    expect(read->name, "signs found", percent(tally->found, tally->signs), 97);
    expect(read->name, "no false flag",
           100 - percent(tally->false_flags, tally->lines - tally->signs), 95);
    if (tally->invented > 0)
        fail_msg("%s: %d numbers read that nobody wrote", read->name, tally->invented);
    if (tally->unnetted > 0)
        fail_msg("%s: %d warning signs missed that nobody would see", read->name, tally->unnetted);
}

static void replies_are_read_as_a_receptionist_would(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(HELD); i++) {
        g_autoptr(ReplyCorpus) dev = corpus(HELD[i], "dev");
        ReplyTally tally;
        if (!replies_measure(dev, packs, &tally, NULL, NULL))
            fail_msg("%s: no language pack for it", dev->name);
        hold_floors(dev, &tally);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_reply_is_labelled_and_stands_once),
        cmocka_unit_test(a_number_stands_in_digits_or_in_words),
        cmocka_unit_test(replies_are_read_as_a_receptionist_would),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
