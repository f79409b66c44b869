/* SPDX-License-Identifier: Apache-2.0 */
/* Kinds of English, Spanish and French replies, each in several words: ratings among other numbers, a session told sideways, signs
 * as lay people put them, and what looks like a sign and is none. Made up by whoever works on the reader, so that a kind stays read; the
 * corpora of other hands tell how well it reads. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "tests/support/replies.h"

static void tell(const LabelledReply *reply, const char *const got[REPLY_FIELDS], bool invented,
                 bool unnetted, void *data)
{
    (void)invented, (void)unnetted, (void)data;
    for (int i = 0; i < REPLY_FIELDS; i++)
        if (strcmp(reply->want[i], got[i]) != 0)
            print_message("\"%s\": %s is %s and not %s\n", reply->text,
                          replies_field((ReplyField)i), got[i], reply->want[i]);
}

static void check_kinds(const char *language, const char *path)
{
    enum { OF_HUNDRED = 99 };
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);
    char *fault = NULL;
    g_autoptr(ReplyCorpus) corpus = replies_load(path, &fault);
    ReplyTally tally;

    if (corpus == NULL) fail_msg("%s", fault);
    g_free(corpus->language);
    corpus->language = g_strdup(language);
    assert_true(replies_measure(corpus, packs, &tally, tell, NULL));
    assert_int_equal(tally.invented, 0);
    assert_int_equal(tally.unnetted, 0);
    for (int i = 0; i < REPLY_FIELDS; i++)
        assert_true(tally.right[i] * 100 >= tally.lines * OF_HUNDRED);
    assert_true(tally.found * 100 >= tally.signs * OF_HUNDRED);
    assert_true(tally.false_flags * 100 <= (tally.lines - tally.signs) * (100 - OF_HUNDRED));
}

static void english_kinds_are_read(void **state)
{
    (void)state;
    check_kinds("en", "tests/core/talk/kinds_en.tsv");
}

static void spanish_kinds_are_read(void **state)
{
    (void)state;
    check_kinds("es", "tests/core/talk/kinds_es.tsv");
}

static void french_kinds_are_read(void **state)
{
    (void)state;
    check_kinds("fr", "tests/core/talk/kinds_fr.tsv");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(english_kinds_are_read),
                                       cmocka_unit_test(spanish_kinds_are_read),
                                       cmocka_unit_test(french_kinds_are_read)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
