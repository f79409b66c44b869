/* SPDX-License-Identifier: Apache-2.0 */
/* osier programme, osier language: what there is, and how it passes from one clinic to another as a file. Works beside a running
 * daemon, which takes a new file on SIGHUP. */
#include <errno.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>

#include "adapters/files/clinic_file.h"
#include "adapters/files/packs.h"
#include "adapters/files/programmes.h"
#include "adapters/files/text.h"
#include "adapters/files/tree.h"
#include "core/calendar/date.h"
#include "daemon/cli/pass.h"

#define KEY_CHARS_MAX 60

typedef struct {
    char *out;
    char *by;
    char *note;
    gboolean replace;
    gboolean changed;
} Wish;

/* --- faults ----------------------------------------------------------------------------------- */

static int tell_faults(const PassKind *kind, const char *path, const GPtrArray *messages)
{
    for (guint i = 0; i < messages->len; i++)
        fprintf(stderr, "%s\n", (const char *)messages->pdata[i]);
    return cli_fault(EXIT_DATA, kind->word, path, "has %u fault%s, told above; nothing was written",
                     messages->len, messages->len == 1 ? "" : "s");
}

/* --- out -------------------------------------------------------------------------------------- */

/* This clinic as the last hand. A file of its own that was changed since it came says so. */
static int add_hand(const Cli *cli, const Wish *wish, PassedHead *head)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(ClinicFolder) folder = clinic_folder_load(cli->clinic, messages);
    g_autofree char *now = instant_format(g_get_real_time() / 1000);

    if (folder == NULL)
        return cli_fault(EXIT_SETTINGS, "--clinic", cli->clinic,
                         "has faults; osier check-config tells them");
    now[strlen("2026-03-02")] = '\0';
    g_autofree char *hand = passed_hand(folder->clinic->name, now, wish->by);
    if (head->what != NULL && head->changed)
        g_ptr_array_add(head->from, g_strconcat(hand, " (changed)", NULL));
    else
        g_ptr_array_add(head->from, g_steal_pointer(&hand));
    /* The first hand and the latest are told. */
    if (head->from->len > PASSED_FROM_MAX) g_ptr_array_remove_index(head->from, 1);
    return EXIT_OK;
}

static int tell_export(const Cli *cli, const PassKind *kind, const Wish *wish, const char *key,
                       const char *body)
{
    g_autofree char *checksum = passed_checksum(body);

    if (cli->json)
        cli_json(json_pack("{s:s, s:o, s:s}", kind->word, key, "out", cli_path(wish->out),
                           "checksum", checksum));
    else
        printf("%s: %s %s, sha256 %s\nWhoever takes it in: osier %s import %s\n", wish->out,
               kind->word, key, checksum, kind->word, wish->out);
    return EXIT_OK;
}

static int export(const Cli *cli, const PassKind *kind, const Wish *wish, const char *key)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    bool own = false;
    g_autofree char *path = pass_find(cli, kind, key, &own);
    g_autofree char *title = NULL;
    PassedHead head;
    const char *body;

    if (path == NULL)
        return cli_fault(EXIT_NO_SUCH, kind->word, key, "there is none; osier %s list names them",
                         kind->word);
    g_autofree char *text = text_load(path, TREE_BYTES_MAX, NULL, messages);
    g_autofree char *judged = text != NULL ? kind->judge(path, &title, messages) : NULL;
    if (judged == NULL) return tell_faults(kind, path, messages);
    passed_read(text, &head, &body);
    int code = add_hand(cli, wish, &head);
    g_free(head.what);
    head.what = g_strconcat(kind->word, " ", key, NULL);
    if (wish->note != NULL) {
        g_free(head.note);
        head.note = g_strdup(wish->note);
    }
    g_autofree char *file = passed_write(&head, body);
    if (code == EXIT_OK) code = cli_make_file("--out", wish->out, file);
    if (code == EXIT_OK) code = tell_export(cli, kind, wish, key, body);
    passed_clear(&head);
    return code;
}

/* --- in --------------------------------------------------------------------------------------- */

static bool is_name(const char *key)
{
    size_t length = strlen(key);

    return length > 0 && length <= KEY_CHARS_MAX &&
           strspn(key, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-") == length;
}

static int tell_import(const Cli *cli, const PassKind *kind, const char *key, const char *file,
                       const PassedHead *head, const char *instead)
{
    json_t *hands = pass_hands(head);

    if (cli->json) {
        cli_json(json_pack("{s:s, s:o, s:o, s:s?, s:b, s:s?}", kind->word, key, "file",
                           cli_path(file), "from", hands, "note", head->note, "changed",
                           head->changed, "instead_of", instead));
        return EXIT_OK;
    }
    printf("%s %s is in: %s\n", kind->word, key, file);
    for (size_t i = 0; i < json_array_size(hands); i++)
        printf("  from %s\n", json_string_value(json_array_get(hands, i)));
    if (head->what == NULL) puts("  it came without a word on where from, and without a checksum");
    if (head->what != NULL && head->changed)
        puts("  it was changed after that, or on its way here");
    if (head->note != NULL) printf("  note: %s\n", head->note);
    if (instead != NULL) printf("  it takes the place of %s\n", instead);
    printf("A clinician reads it before a client does. A running osierd takes it on SIGHUP.\n");
    json_decref(hands);
    return EXIT_OK;
}

static int keep(const Cli *cli, const PassKind *kind, const Wish *wish, const char *key,
                PassedHead *head, const char *body)
{
    bool own = false;
    g_autofree char *before = pass_find(cli, kind, key, &own);
    g_autofree char *name = g_strconcat(key, ".yaml", NULL);
    g_autofree char *folder = g_build_filename(cli->clinic, kind->room, NULL);
    g_autofree char *file = g_build_filename(folder, name, NULL);
    g_autoptr(GError) error = NULL;

    if (before != NULL && !wish->replace)
        return cli_fault(EXIT_CANNOT_MAKE, kind->word, key,
                         "is there already, %s; --replace puts this one in its place",
                         own ? "the clinic's own" : "as it came with osier");
    PassedHead kept = *head;
    g_autofree char *what = g_strconcat(kind->word, " ", key, NULL);
    g_autofree char *note = head->changed ? g_strdup_printf("was changed on its way here. %s",
                                                            head->note != NULL ? head->note : "")
                                          : g_strdup(head->note);
    kept.what = what;
    kept.note = note;
    g_autofree char *text = passed_write(&kept, body);
    if (g_mkdir_with_parents(folder, 0700) != 0 ||
        !g_file_set_contents_full(file, text, (gssize)strlen(text),
                                  G_FILE_SET_CONTENTS_CONSISTENT | G_FILE_SET_CONTENTS_DURABLE,
                                  0600, &error))
        return cli_fault(EXIT_CANNOT_MAKE, kind->word, file, "%s",
                         error != NULL ? error->message : g_strerror(errno));
    return tell_import(cli, kind, key, file, head,
                       before == NULL ? NULL
                       : own          ? "the clinic's own"
                                      : "osier's");
}

static int import(const Cli *cli, const PassKind *kind, const Wish *wish, const char *path)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *text = text_load(path, TREE_BYTES_MAX, NULL, messages);
    g_autofree char *title = NULL;
    g_autofree char *key = text != NULL ? kind->judge(path, &title, messages) : NULL;
    PassedHead head;
    const char *body;
    int code;

    if (!g_file_test(cli->clinic, G_FILE_TEST_IS_DIR))
        return cli_fault(EXIT_SETTINGS, "--clinic", cli->clinic, "is no folder");
    code = cli_input(kind->word, path);
    if (code != EXIT_OK) return code;
    passed_read(text != NULL ? text : "", &head, &body);
    if (head.what != NULL && head.changed && !wish->changed)
        code = cli_fault(EXIT_DATA, "checksum", path,
                         "is not that of what follows: the file was changed after %s passed it on, "
                         "or on the way; ask them, or take it as it is with --changed",
                         head.from->len > 0 ? (char *)head.from->pdata[head.from->len - 1]
                                            : "somebody");
    else if (key == NULL)
        code = tell_faults(kind, path, messages);
    else if (!is_name(key))
        code = cli_fault(EXIT_DATA, kind->word, key, "is no name for a file");
    else
        code = keep(cli, kind, wish, key, &head, body);
    passed_clear(&head);
    return code;
}

/* --- the commands ----------------------------------------------------------------------------- */

static int choose(const Cli *cli, const PassKind *kind, const Wish *wish, int argc, char **argv)
{
    const char *word = argc > 1 ? argv[1] : "list";

    if (argc <= 2 && strcmp(word, "list") == 0) return pass_list(cli, kind);
    if (argc == 3 && strcmp(word, "export") == 0 && wish->out != NULL)
        return export(cli, kind, wish, argv[2]);
    if (argc == 3 && strcmp(word, "import") == 0) return import(cli, kind, wish, argv[2]);
    return cli_fault(EXIT_USE, kind->word, word,
                     "needs list, export KEY --out FILE, or import FILE; try: osier %s --help",
                     kind->word);
}

static int run_kind(const Cli *cli, const PassKind *kind, int argc, char **argv)
{
    Wish wish = {0};
    const GOptionEntry entries[] = {
        {.long_name = "out", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.out},
        {.long_name = "by", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.by},
        {.long_name = "note", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.note},
        {.long_name = "replace", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.replace},
        {.long_name = "changed", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.changed},
        {0},
    };
    int code = EXIT_USE;

    if (cli_options(kind->command, entries, &argc, &argv))
        code = choose(cli, kind, &wish, argc, argv);
    g_free(wish.out);
    g_free(wish.by);
    g_free(wish.note);
    return code;
}

static char *judge_programme(const char *path, char **title, GPtrArray *messages)
{
    ProgrammeFile *file = programme_file_read(path, messages);
    char *key = file != NULL ? g_strdup(file->programme->key) : NULL;

    if (file != NULL) *title = g_strdup(file->programme->title);
    programme_file_free(file);
    return key;
}

static char *judge_language(const char *path, char **title, GPtrArray *messages)
{
    Pack *pack = pack_file_read(path, messages);
    char *language = pack != NULL ? g_strdup(pack_language(pack)) : NULL;

    (void)title;
    pack_free(pack);
    return language;
}

static int run_programme(const Cli *cli, int argc, char **argv)
{
    return run_kind(cli,
                    &(PassKind){"programme", "programmes", &COMMAND_PROGRAMME, judge_programme},
                    argc, argv);
}

static int run_language(const Cli *cli, int argc, char **argv)
{
    return run_kind(cli, &(PassKind){"language", "languages", &COMMAND_LANGUAGE, judge_language},
                    argc, argv);
}

#define PASSING                                                                                    \
    "The file is the one that is used, below a head of comments: where it came from, through "     \
    "whose "                                                                                       \
    "hands, and a\nchecksum. An import checks it whole and tells every fault with line and "       \
    "column; "                                                                                     \
    "nothing is written where there\nis one. A file that was changed on the way is told by its "   \
    "checksum and refused, unless --changed is given; one\nthat is there already stays, unless "   \
    "--replace is.\n"

const Command COMMAND_PROGRAMME = {
    .name = "programme",
    .summary = "list programmes, pass one on as a file, take one in",
    .usage = "list|export KEY --out FILE|import FILE ...",
    .help =
        "  osier programme list\n"
        "  osier programme export calf-and-hamstring --out calf.yaml [--by NAME] [--note TEXT]\n"
        "  osier programme import calf.yaml [--replace] [--changed]\n\n" PASSING,
    .run = run_programme,
};

const Command COMMAND_LANGUAGE = {
    .name = "language",
    .summary = "list languages, pass one on as a file, take one in",
    .usage = "list|export LANGUAGE --out FILE|import FILE ...",
    .help = "  osier language list\n"
            "  osier language export es --out es.yaml [--by NAME] [--note TEXT]\n"
            "  osier language import es.yaml [--replace] [--changed]\n\n" PASSING,
    .run = run_language,
};
