/* SPDX-License-Identifier: Apache-2.0 */
/* Replies read a second on one core: the labelled replies of each language, the client's own language first and the others
 * after, as the daemon reads. Beside it, text folded character by character and nothing else: what no reader can beat. Then
 * one text of 100 kB against its share of short ones, in time for each byte. */
#include <stdio.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"
#include "core/talk/reading_fold.h"
#include "tests/bench/figure.h"
#include "tests/support/replies.h"

enum { RUNS = 5, LONG_BYTES = 100000 };

typedef struct {
    const ReplyCorpus *corpus;
    const Pack *packs[8];
    int n_packs;
    const char *text; /* one long text, or NULL for the corpus */
    size_t length;
} Bench;

static void read_all(int count, void *context)
{
    const Bench *bench = context;

    for (int i = 0; i < count; i++) {
        const LabelledReply *reply =
            bench->corpus->lines->pdata[(guint)i % bench->corpus->lines->len];
        reading_free(reply_read(bench->packs, bench->n_packs, reply->text, strlen(reply->text)));
    }
}

static void fold_all(int count, void *context)
{
    const Bench *bench = context;
    unsigned sum = 0;

    for (int i = 0; i < count; i++) {
        const LabelledReply *reply =
            bench->corpus->lines->pdata[(guint)i % bench->corpus->lines->len];
        Fold fold;
        for (const char *p = reply->text; *p != '\0'; p = g_utf8_next_char(p)) {
            fold_char(g_utf8_get_char(p), &fold);
            sum += (unsigned)fold.length;
        }
    }
    g_assert(sum > 0);
}

static void read_long(int count, void *context)
{
    const Bench *bench = context;

    for (int i = 0; i < count; i++)
        reading_free(reply_read(bench->packs, bench->n_packs, bench->text, bench->length));
}

/* The pack of the language first, the others behind it. */
static void order_packs(Bench *bench, const GPtrArray *packs, const char *language)
{
    bench->n_packs = 0;
    for (int turn = 0; turn < 2; turn++)
        for (guint i = 0; i < packs->len && bench->n_packs < 8; i++) {
            const Pack *pack = packs->pdata[i];
            bool own = strcmp(pack_language(pack), language) == 0;
            if (own == (turn == 0)) bench->packs[bench->n_packs++] = pack;
        }
}

static void measure(const GPtrArray *packs, const char *language)
{
    g_autofree char *path = g_strdup_printf("tests/core/talk/%s-dev.tsv", language);
    char *fault = NULL;
    g_autoptr(ReplyCorpus) corpus = replies_load(path, &fault);
    g_assert(corpus != NULL);
    Bench bench = {.corpus = corpus};
    Figure ours, bare;
    g_autofree char *name = g_strdup_printf("replies read, %s", language);
    g_autofree char *long_name = g_strdup_printf("texts of 100 kB read, %s", language);

    order_packs(&bench, packs, language);
    figure_compare(read_all, fold_all, (int)corpus->lines->len * 2, RUNS, &bench, &ours, &bare);
    figure_print(name, &ours, "folded only", &bare);
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; text->len < LONG_BYTES; i++) {
        const LabelledReply *reply = corpus->lines->pdata[i % corpus->lines->len];
        g_string_append_printf(text, "%s. ", reply->text);
    }
    bench.text = text->str;
    bench.length = text->len;
    figure_compare(read_long, read_long, 4, RUNS, &bench, &ours, &bare);
    figure_print(long_name, &ours, NULL, NULL);
}

int main(void)
{
    static const char *const LANGUAGES[] = {"en", "es", "fr"};
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    for (size_t i = 0; i < G_N_ELEMENTS(LANGUAGES); i++)
        measure(packs, LANGUAGES[i]);
    return 0;
}
