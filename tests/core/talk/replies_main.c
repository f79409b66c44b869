/* SPDX-License-Identifier: Apache-2.0 */
/* How well replies are read: a table of figures for each file of labelled replies. What was misread
 * is listed for the files that the reader is worked on with, and never for those that are kept
 * aside.
 *
 *   replies [--confusion] FILE.tsv… */
#include <stdio.h>
#include <string.h>

#include "adapters/files/packs.h"
#include "tests/support/replies.h"

typedef struct {
    GPtrArray *corpora; /* of ReplyCorpus */
    ReplyTally *tallies;
} Measured;

static double percent(int part, int whole)
{
    return whole > 0 ? 100.0 * part / whole : 100.0;
}

static void print_heading(void)
{
    printf("%-12s %5s %6s %9s %6s %8s %11s %7s %11s %8s %8s %7s\n", "replies", "lines", "done",
           "intensity", "pain", "invented", "signs found", "kind", "false flags", "unnetted",
           "commands", "person");
}

static void print_figures(const char *name, const ReplyTally *tally)
{
    int same = 0;
    g_autofree char *found = g_strdup_printf("%d/%d %.1f", tally->found, tally->signs,
                                             percent(tally->found, tally->signs));

    for (int i = 0; i < REPLY_SIGNS - 1; i++)
        same += tally->confusion[i][i];
    printf("%-12s %5d %6.1f %9.1f %6.1f %8d %11s %7.1f %11.1f %8d %8.1f %7.1f\n", name,
           tally->lines, percent(tally->right[REPLY_DONE], tally->lines),
           percent(tally->right[REPLY_INTENSITY], tally->lines),
           percent(tally->right[REPLY_PAIN], tally->lines), tally->invented, found,
           percent(same, tally->signs), percent(tally->false_flags, tally->lines - tally->signs),
           tally->unnetted, percent(tally->right[REPLY_COMMAND], tally->lines),
           percent(tally->right[REPLY_PERSON], tally->lines));
}

static void print_confusion(const char *name, const ReplyTally *tally)
{
    printf("\nwarning signs of %s: label down, reading across\n%-9s", name, "");
    for (int i = 0; i < REPLY_SIGNS; i++)
        printf(" %8s", replies_sign(i));
    printf("\n");
    for (int i = 0; i < REPLY_SIGNS; i++) {
        printf("%-9s", replies_sign(i));
        for (int k = 0; k < REPLY_SIGNS; k++)
            printf(" %8d", tally->confusion[i][k]);
        printf("\n");
    }
}

static void print_wrong(const LabelledReply *reply, const char *const got[REPLY_FIELDS],
                        bool invented, bool unnetted, void *data)
{
    GString *list = data;

    g_string_append(list, reply->id);
    for (int i = 0; i < REPLY_FIELDS; i++)
        if (strcmp(reply->want[i], got[i]) != 0)
            g_string_append_printf(list, "  %s %s not %s", replies_field((ReplyField)i), got[i],
                                   reply->want[i]);
    g_string_append_printf(list, "%s%s\n", invented ? "  INVENTED" : "",
                           unnetted ? "  UNNETTED" : "");
}

static bool load(int n, char **paths, GPtrArray *corpora)
{
    for (int i = 0; i < n; i++) {
        char *fault = NULL;
        ReplyCorpus *corpus = replies_load(paths[i], &fault);
        if (corpus == NULL) {
            fprintf(stderr, "replies: %s: %s\n", paths[i], fault);
            g_free(fault);
            return false;
        }
        g_ptr_array_add(corpora, corpus);
    }
    return true;
}

/* False where a corpus could not be read for want of its language pack; the others are. */
static bool measure(const Measured *measured, const GPtrArray *packs, GString *list)
{
    bool all = true;

    print_heading();
    for (guint i = 0; i < measured->corpora->len; i++) {
        const ReplyCorpus *corpus = measured->corpora->pdata[i];
        ReplyWrong *wrong = corpus->kept ? NULL : print_wrong;
        if (replies_measure(corpus, packs, &measured->tallies[i], wrong, list)) {
            print_figures(corpus->name, &measured->tallies[i]);
            continue;
        }
        printf("%-12s no language pack for it\n", corpus->name);
        all = false;
    }
    return all;
}

static int run(int n, char **paths, bool confusion)
{
    g_autoptr(GPtrArray) corpora = g_ptr_array_new_with_free_func((GDestroyNotify)replies_free);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);
    g_autoptr(GString) list = g_string_new(NULL);
    g_autofree ReplyTally *tallies = g_new0(ReplyTally, n);

    for (guint i = 0; i < messages->len; i++)
        fprintf(stderr, "replies: %s\n", (const char *)messages->pdata[i]);
    if (!load(n, paths, corpora)) return 1;
    bool all = measure(&(Measured){corpora, tallies}, packs, list);
    for (int i = 0; confusion && i < n; i++)
        print_confusion(((const ReplyCorpus *)corpora->pdata[i])->name, &tallies[i]);
    if (list->len > 0) printf("\nmisread, of the files that are not kept aside:\n%s", list->str);
    return all ? 0 : 1;
}

int main(int argc, char **argv)
{
    bool confusion = argc > 1 && strcmp(argv[1], "--confusion") == 0;
    int first = confusion ? 2 : 1;

    if (argc <= first) {
        fprintf(stderr,
                "replies: name the files of labelled replies: replies [--confusion] FILE.tsv…\n");
        return 64;
    }
    return run(argc - first, argv + first, confusion);
}
