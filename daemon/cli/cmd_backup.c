/* SPDX-License-Identifier: Apache-2.0 */
/* osier backup: a checked copy of the clinic's store, made while osierd works. The daemon copies into its own folder; what
 * follows (the check, the seal, the move) is done here, by whoever asks. */
#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/seal/seal.h"
#include "adapters/store/store_sqlite.h"
#include "daemon/cli/cli.h"
#include "daemon/cli/remote.h"

typedef struct {
    char *key;      /* to seal to, or NULL */
    char *new_key;  /* file for a new secret key, or NULL */
    int64_t events; /* in the copy */
} Wish;

/* A new pair: the secret key into a file of its owner's, the public one on the screen. */
static int make_key(const Cli *cli, const char *path)
{
    g_autofree char *public_key = NULL;
    g_autofree char *secret_key = NULL;

    seal_keys(&public_key, &secret_key);
    g_autofree char *line = g_strconcat(secret_key, "\n", NULL);
    int code = cli_make_file("backup", path, line);
    explicit_bzero(secret_key, strlen(secret_key));
    explicit_bzero(line, strlen(line));
    if (code != EXIT_OK) return code;
    if (cli->json) {
        cli_json(json_pack("{s:s, s:o}", "key", public_key, "secret", cli_path(path)));
        return EXIT_OK;
    }
    printf(
        "%s\nis the key to seal to: put it into clinic.yaml, as backup: {at: \"03:00\", key: ...}\n"
        "%s opens what was sealed. Keep it away from this machine; without it no copy can be "
        "read.\n",
        public_key, path);
    return EXIT_OK;
}

/* Is the copy what a restore could use? */
static int check_copy(const char *file, Wish *wish)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;

    if (store_sqlite_check(file, false, findings, &wish->events, &why) != OPEN_OK)
        return cli_fault(EXIT_IO, "backup", file, "cannot be opened again: %s", why);
    if (findings->len > 0)
        return cli_fault(EXIT_DATA, "backup", file, "is not sound: %s; run osier check",
                         (const char *)findings->pdata[0]);
    return EXIT_OK;
}

static int move_copy(const char *file, const char *to)
{
    g_autoptr(GFile) from_file = g_file_new_for_path(file);
    g_autoptr(GFile) to_file = g_file_new_for_path(to);
    g_autoptr(GError) error = NULL;

    if (!g_file_move(from_file, to_file, G_FILE_COPY_NOFOLLOW_SYMLINKS, NULL, NULL, NULL, &error))
        return cli_fault(EXIT_CANNOT_MAKE, "backup", to, "%s", error->message);
    int moved = open(to, O_RDONLY | O_CLOEXEC);
    bool synced = moved >= 0 && fsync(moved) == 0;
    if (moved >= 0) close(moved);
    return synced ? EXIT_OK
                  : cli_fault(EXIT_IO, "backup", to, "cannot be synced: %s", g_strerror(errno));
}

static int put_copy(const char *file, const char *to, const Wish *wish)
{
    if (wish->key == NULL) return move_copy(file, to);
    g_autofree char *problem = seal_file(file, to, wish->key);
    return problem == NULL ? EXIT_OK : cli_fault(EXIT_CANNOT_MAKE, "backup", to, "%s", problem);
}

static int tell(const Cli *cli, const char *to, const Wish *wish)
{
    GStatBuf about = {0};
    bool sealed = wish->key != NULL;

    g_stat(to, &about);
    if (cli->json) {
        cli_json(json_pack("{s:o, s:I, s:I, s:b}", "file", cli_path(to), "bytes",
                           (json_int_t)about.st_size, "events", (json_int_t)wish->events, "sealed",
                           sealed));
        return EXIT_OK;
    }
    printf("%s: %" G_GINT64_FORMAT " events, %.1f MB, checked%s\n", to, wish->events,
           (double)about.st_size / 1e6,
           sealed ? " and sealed"
                  : "\nIt is not sealed: whoever can read the file can read the clinic's records.");
    return EXIT_OK;
}

static int run(const Cli *cli, int argc, char **argv)
{
    Wish wish = {0};
    const GOptionEntry entries[] = {
        {.long_name = "key", .arg = G_OPTION_ARG_STRING, .arg_data = &wish.key},
        {.long_name = "new-key", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.new_key},
        {0},
    };
    json_t *answer = NULL;

    if (!cli_options(&COMMAND_BACKUP, entries, &argc, &argv)) return EXIT_USE;
    g_autofree char *key = wish.key;
    g_autofree char *new_key = wish.new_key;
    if (new_key != NULL && argc == 1) return make_key(cli, new_key);
    if (argc != 2 || new_key != NULL)
        return cli_fault(EXIT_USE, "backup", argc > 2 ? argv[2] : "",
                         "needs one file to make; try: osier backup --help");
    if (key != NULL && !seal_is_key(key))
        return cli_fault(EXIT_DATA, "--key", key,
                         "is no key; osier backup --new-key FILE makes one");
    if (g_file_test(argv[1], G_FILE_TEST_EXISTS))
        return cli_fault(EXIT_CANNOT_MAKE, "backup", argv[1], "is there already; name a new file");
    g_autofree char *folder = g_path_get_dirname(argv[1]);
    if (!g_file_test(folder, G_FILE_TEST_IS_DIR))
        return cli_fault(EXIT_CANNOT_MAKE, "backup", argv[1], "there is no folder %s", folder);
    int code = remote_call(cli, "POST", "/backup", json_object(), &answer);
    if (code != EXIT_OK) return code;
    g_autofree char *file = g_strdup(json_string_value(json_object_get(answer, "file")));
    json_decref(answer);
    code = check_copy(file, &wish);
    if (code == EXIT_OK) code = put_copy(file, argv[1], &wish);
    g_unlink(file);
    return code == EXIT_OK ? tell(cli, argv[1], &wish) : code;
}

const Command COMMAND_BACKUP = {
    .name = "backup",
    .summary = "copy the clinic's store into a file, while osierd works",
    .usage = "FILE [--key KEY] | --new-key FILE",
    .help = "  osier backup /media/stick/clinic-2026-03-02.db\n"
            "  osier backup --new-key ~/osier-secret-key\n"
            "  osier backup /media/stick/clinic.sealed --key osier-seal-...\n\n"
            "The copy is opened and checked before it is said to be made. With --key it is sealed: "
            "only "
            "the\n"
            "secret key, which --new-key writes, opens it. For a copy each night see backup: in "
            "clinic.yaml.\n"
            "Settings, programmes and secrets are files of the folder and are not in it.",
    .run = run,
};
