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
    int lines; /* at least, of what the reader is worked on with */
} CORPORA[] = {{"en", 1900}, {"es", 900}, {"fr", 800}};

/* Every file of a language's replies; kept ones too where asked for. GPtrArray of ReplyCorpus. */
static GPtrArray *corpora(const char *language, bool kept)
{
    g_autoptr(GDir) folder = g_dir_open("tests/core/talk", 0, NULL);
    GPtrArray *read = g_ptr_array_new_with_free_func((GDestroyNotify)replies_free);
    const char *name;

    assert_non_null(folder);
    while ((name = g_dir_read_name(folder)) != NULL) {
        bool mine = g_str_has_prefix(name, language) && name[strlen(language)] == '-';
        if (!mine || !g_str_has_suffix(name, ".tsv")) continue;
        if (g_str_has_suffix(name, "-kept.tsv") && !kept) continue;
        g_autofree char *path = g_build_filename("tests/core/talk", name, NULL);
        char *fault = NULL;
        ReplyCorpus *corpus = replies_load(path, &fault);
        if (corpus == NULL) fail_msg("%s: %s", path, fault);
        g_ptr_array_add(read, corpus);
    }
    return read;
}

/* An id stands once in all files; a text once in its own (the shortest replies, "3", are in several). */
static int count_new(const ReplyCorpus *read, GHashTable *ids)
{
    g_autoptr(GHashTable) texts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);

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
        g_autoptr(GPtrArray) files = corpora(CORPORA[i].language, true);
        g_autoptr(GHashTable) ids = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
        int lines = 0;
        for (guint k = 0; k < files->len; k++) {
            const ReplyCorpus *corpus = files->pdata[k];
            int added = count_new(corpus, ids);
            lines += corpus->kept ? 0 : added;
        }
        assert_true(lines >= CORPORA[i].lines);
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

static void hold_floors(const char *language, const ReplyTally *tally)
{
    expect(language, "done", percent(tally->right[REPLY_DONE], tally->lines), 96.5);
    expect(language, "intensity", percent(tally->right[REPLY_INTENSITY], tally->lines), 98);
    expect(language, "pain", percent(tally->right[REPLY_PAIN], tally->lines), 98);
    expect(language, "commands", percent(tally->right[REPLY_COMMAND], tally->lines), 99.5);
    expect(language, "person", percent(tally->right[REPLY_PERSON], tally->lines), 95);
    expect(language, "signs found", percent(tally->found, tally->signs), 98);
    expect(language, "no false flag",
           100 - percent(tally->false_flags, tally->lines - tally->signs), 98);
    if (tally->invented > 0)
        fail_msg("%s: %d numbers read that nobody wrote", language, tally->invented);
    if (tally->unnetted > 0)
        fail_msg("%s: %d warning signs missed that nobody would see", language, tally->unnetted);
}

static void add_up(ReplyTally *sum, const ReplyTally *tally)
{
    sum->lines += tally->lines;
    sum->signs += tally->signs;
    sum->found += tally->found;
    sum->false_flags += tally->false_flags;
    sum->invented += tally->invented;
    sum->unnetted += tally->unnetted;
    for (int field = 0; field < REPLY_FIELDS; field++)
        sum->right[field] += tally->right[field];
}

/* All files of a language together: what several people wrote, who did not look at the reader. */
static void replies_are_read_as_a_receptionist_would(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CORPORA); i++) {
        g_autoptr(GPtrArray) files = corpora(CORPORA[i].language, false);
        ReplyTally sum = {0};
        for (guint k = 0; k < files->len; k++) {
            ReplyTally tally;
            if (!replies_measure(files->pdata[k], packs, &tally, NULL, NULL))
                fail_msg("%s: no language pack for it", CORPORA[i].language);
            add_up(&sum, &tally);
        }
        hold_floors(CORPORA[i].language, &sum);
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
