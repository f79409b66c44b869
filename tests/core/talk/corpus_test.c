/* SPDX-License-Identifier: Apache-2.0 */
/* What the reader must reach on the labelled replies that it is worked on with. Those kept aside
 * are only checked for their form: `make replies` gives their figures. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

#include "tests/support/replies.h"

static const struct {
    const char *language;
    int dev, kept; /* lines at least */
} CORPORA[] = {{"en", 420, 210}, {"es", 170, 85}, {"fr", 140, 70}};

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_reply_is_labelled_and_stands_once),
        cmocka_unit_test(a_number_stands_in_digits_or_in_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
