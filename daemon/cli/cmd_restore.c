/* SPDX-License-Identifier: Apache-2.0 */
/* osier restore: a copy becomes the store of a clinic folder that has none. It goes on as a replica of its own, which sends
 * nothing until it is told to: the installation that the copy came from may still be at work. */
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>

#include "adapters/seal/seal.h"
#include "daemon/cli/place.h"
#include "daemon/random.h"

#define KEY_BYTES_MAX 200

typedef struct {
    const char *file;
    char *key_file;              /* or NULL */
    char *path;                  /* the folder's store.db */
    char *part;                  /* where it is made ready */
    const PostgresPlace *schema; /* where it belongs instead of the folder; or NULL */
    int64_t events;
} Restore;

static int exit_code(OpenResult result)
{
    switch (result) {
    case OPEN_OK: return EXIT_OK;
    case OPEN_IN_USE: return EXIT_LATER;
    case OPEN_CANNOT: return EXIT_IO;
    case OPEN_NO_STORE:
    case OPEN_OTHER_MODE:
    case OPEN_NEWER: return EXIT_DATA;
    }
    return EXIT_IO;
}

/* A folder with a store keeps it: what is there is never written over. */
static int find_place(const Cli *cli, Restore *restore)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    if (!g_file_test(cli->clinic, G_FILE_TEST_IS_DIR))
        return cli_fault(EXIT_NO_SUCH, "--clinic", cli->clinic,
                         "is no folder; osier init makes one");
    if (!g_file_test(restore->path, G_FILE_TEST_EXISTS)) return EXIT_OK;
    if (store_sqlite_check(restore->path, false, findings, &events, &why) == OPEN_IN_USE)
        return cli_fault(EXIT_LATER, "restore", restore->path, "is in use; stop osierd first");
    return cli_fault(EXIT_CANNOT_MAKE, "restore", restore->path,
                     "is there already; move it away first, with its -wal file");
}

static int read_key(const Restore *restore, char **key)
{
    g_autoptr(GError) error = NULL;
    gsize length;

    if (restore->key_file == NULL)
        return cli_fault(EXIT_USE, "restore", restore->file,
                         "is sealed; --key-file names the file of the secret key");
    if (!g_file_get_contents(restore->key_file, key, &length, &error))
        return cli_fault(EXIT_NO_SUCH, "--key-file", restore->key_file, "%s", error->message);
    if (length > KEY_BYTES_MAX)
        return cli_fault(EXIT_DATA, "--key-file", restore->key_file, "holds no key");
    g_strchomp(*key);
    return EXIT_OK;
}

/* The copy, opened where it is sealed, beside where the store will be. */
static int bring(const Restore *restore)
{
    g_autoptr(GError) error = NULL;

    if (!g_file_test(restore->file, G_FILE_TEST_IS_REGULAR))
        return cli_fault(EXIT_NO_SUCH, "restore", restore->file, "is no file");
    if (seal_is_sealed(restore->file)) {
        g_autofree char *key = NULL;
        int code = read_key(restore, &key);
        if (code != EXIT_OK) return code;
        g_autofree char *problem = seal_open_file(restore->file, restore->part, key);
        explicit_bzero(key, strlen(key));
        return problem == NULL ? EXIT_OK
                               : cli_fault(EXIT_DATA, "restore", restore->file, "%s", problem);
    }
    g_autoptr(GFile) from = g_file_new_for_path(restore->file);
    g_autoptr(GFile) to = g_file_new_for_path(restore->part);
    if (!g_file_copy(from, to, G_FILE_COPY_NONE, NULL, NULL, NULL, &error))
        return cli_fault(EXIT_CANNOT_MAKE, "restore", restore->part, "%s", error->message);
    g_chmod(restore->part, 0600);
    return EXIT_OK;
}

static int check(Restore *restore)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;

    OpenResult result = store_sqlite_check(restore->part, false, findings, &restore->events, &why);
    if (result != OPEN_OK)
        return cli_fault(exit_code(result), "restore", restore->file, "%s",
                         why + strlen(restore->part) + 2);
    if (findings->len > 0)
        return cli_fault(EXIT_DATA, "restore", restore->file, "is not sound: %s",
                         (const char *)findings->pdata[0]);
    return EXIT_OK;
}

static int fill_schema(const Restore *restore)
{
    g_autofree char *why = NULL;

    switch (store_place_fill(restore->part, restore->schema, &why)) {
    case MOVE_DONE: g_unlink(restore->part); return EXIT_OK;
    case MOVE_IN_USE: return cli_fault(EXIT_LATER, "restore", restore->file, "%s", why);
    case MOVE_NO_SOURCE:
    case MOVE_UNSOUND: return cli_fault(EXIT_DATA, "restore", restore->file, "%s", why);
    case MOVE_TAKEN: return cli_fault(EXIT_CANNOT_MAKE, "restore", restore->file, "%s", why);
    case MOVE_CANNOT: return cli_fault(EXIT_IO, "restore", restore->file, "%s", why);
    }
    g_assert_not_reached();
}

/* Gives the copy an id of its own and moves it into place. */
static int settle_in(const Restore *restore)
{
    Random *random = random_live_new();
    g_autofree char *replica =
        g_strdup_printf("%016" G_GINT64_MODIFIER "x", random_number(random, "replica"));
    g_autofree char *why = NULL;

    random_free(random);
    OpenResult result = store_sqlite_renew(restore->part, replica, g_get_real_time() / 1000, &why);
    if (result != OPEN_OK) return cli_fault(exit_code(result), "restore", restore->file, "%s", why);
    if (restore->schema != NULL) return fill_schema(restore);
    if (g_rename(restore->part, restore->path) != 0)
        return cli_fault(EXIT_CANNOT_MAKE, "restore", restore->path, "cannot be put in its place");
    return EXIT_OK;
}

static int restore_all(const Cli *cli, Restore *restore)
{
    int code = find_place(cli, restore);

    if (code != EXIT_OK) return code;
    g_unlink(restore->part); /* of one that was cut short */
    code = bring(restore);
    if (code == EXIT_OK) code = check(restore);
    if (code == EXIT_OK) code = settle_in(restore);
    if (code != EXIT_OK) g_unlink(restore->part);
    return code;
}

static int tell(const Cli *cli, const Restore *restore)
{
    const char *place = restore->schema != NULL ? restore->schema->schema : restore->path;

    if (cli->json) {
        cli_json(json_pack("{s:o, s:I}", "store", cli_path(place), "events",
                           (json_int_t)restore->events));
        return EXIT_OK;
    }
    printf(
        "%s: %" G_GINT64_FORMAT " events, checked and in place, as a new replica.\n"
        "It sends nothing until it is told to. If the installation that the copy came from is gone "
        "for good:\n"
        "  start  osierd --clinic %s\n"
        "  then   osier sender take --by NAME\n",
        place, restore->events, cli->clinic);
    return EXIT_OK;
}

static int run(const Cli *cli, int argc, char **argv)
{
    Restore restore = {0};
    const GOptionEntry entries[] = {
        {.long_name = "key-file", .arg = G_OPTION_ARG_FILENAME, .arg_data = &restore.key_file},
        {0},
    };

    if (!cli_options(&COMMAND_RESTORE, entries, &argc, &argv)) return EXIT_USE;
    g_autofree char *key_file = restore.key_file;
    g_auto(ClinicPlace) found = {0};
    clinic_place_find(cli, &found);
    g_autofree char *part = g_build_filename(cli->clinic, "store.db.part", NULL);
    if (argc != 2)
        return cli_fault(EXIT_USE, "restore", argc > 2 ? argv[2] : "",
                         "needs one file; try: osier restore --help");
    restore.file = argv[1];
    restore.path = found.file;
    restore.part = part;
    restore.schema = clinic_place_store(&found).schema;
    int code = restore_all(cli, &restore);
    return code == EXIT_OK ? tell(cli, &restore) : code;
}

const Command COMMAND_RESTORE = {
    .name = "restore",
    .summary = "put a copy into a folder that has no store (osierd stopped)",
    .usage = "FILE [--key-file FILE]",
    .help =
        "  osier restore /media/stick/clinic-2026-03-02.db --clinic /srv/clinic\n"
        "  osier restore /media/stick/clinic.sealed --key-file ~/osier-secret-key\n\n"
        "The copy is checked before it is put in its place; a store that is there is never written "
        "over. It\n"
        "goes on as a new replica that sends nothing until osier sender take says so: the "
        "installation that the\n"
        "copy came from may still be at work. Bring clinic.yaml and secrets/ along as well: where "
        "it "
        "names a schema\non a PostgreSQL server, the copy goes there.",
    .run = run,
};
