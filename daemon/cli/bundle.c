/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/bundle.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/peer/identity.h"
#include "adapters/seal/seal.h"
#include "daemon/cli/bundle_read.h"
#include "daemon/cli/remote.h"
#include "daemon/sync/own.h"

#define PARTS_MOST 100000

/* A bundle on its way, in the clear, in the clinic's own folder. */
typedef struct {
    char *path;
    FILE *file;
    GChecksum *sum;
    int64_t events;
} Draft;

static void draft_clear(Draft *draft)
{
    if (draft->file != NULL) fclose(draft->file);
    if (draft->path != NULL) g_unlink(draft->path);
    if (draft->sum != NULL) g_checksum_free(draft->sum);
    g_free(draft->path);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Draft, draft_clear)

/* A name of its own in secrets/, where nobody else looks. */
static char *draft_path(const Cli *cli)
{
    return g_strdup_printf("%s/secrets/" OWN_DRAFT "%d", cli->clinic, (int)getpid());
}

static void digest_of(const Draft *draft, uint8_t digest[32])
{
    gsize length = 32;
    g_autoptr(GChecksum) copy = g_checksum_copy(draft->sum);

    g_checksum_get_digest(copy, digest, &length);
}

/* --- making ------------------------------------------------------------------------------------------ */

static bool put(Draft *draft, const void *bytes, size_t length)
{
    g_checksum_update(draft->sum, bytes, (gssize)length);
    return fwrite(bytes, 1, length, draft->file) == length;
}

static bool put_length(Draft *draft, size_t length)
{
    uint32_t big_endian = GUINT32_TO_BE((uint32_t)length);

    return put(draft, &big_endian, sizeof big_endian);
}

static bool put_part(Draft *draft, const json_t *answer)
{
    gsize length;
    g_autofree guchar *bytes =
        g_base64_decode(json_string_value(json_object_get(answer, "parcel")), &length);

    draft->events += json_integer_value(json_object_get(answer, "events"));
    return put_length(draft, length) && put(draft, bytes, length);
}

static bool put_signature(Draft *draft, const Own *own)
{
    uint8_t digest[32];

    if (!put_length(draft, 0)) return false;
    digest_of(draft, digest);
    g_autoptr(GBytes) signature = identity_sign(own->key, digest);
    gsize length = 0;
    const void *bytes = signature != NULL ? g_bytes_get_data(signature, &length) : NULL;
    return bytes != NULL && fwrite(bytes, 1, length, draft->file) == length &&
           fflush(draft->file) == 0;
}

/* Which number of each replica has been put in so far: the latest word counts. */
static void note_reached(json_t *after, const json_t *reached)
{
    size_t i, k;
    json_t *item, *known;

    json_array_foreach((json_t *)reached, i, item)
    {
        json_array_foreach(after, k, known)
        {
            if (json_equal(json_array_get(known, 0), json_array_get(item, 0))) break;
        }
        if (k < json_array_size(after))
            json_array_set(after, k, item);
        else
            json_array_append(after, item);
    }
}

/* Asks for part after part. *seal gets the key to seal to (g_free). */
static int fill(const Cli *cli, Draft *draft, const char *peer, bool all, char **seal)
{
    json_t *after = json_array();
    bool more = true;
    int code = EXIT_OK;

    for (int i = 0; more && code == EXIT_OK && i < PARTS_MOST; i++) {
        json_t *answer = NULL;
        code = remote_call(cli, "POST", "/sync/bundle",
                           json_pack("{s:s, s:O, s:b}", "peer", peer, "after", after, "all", all),
                           &answer);
        if (code != EXIT_OK) break;
        if (i == 0) {
            g_autofree char *head = g_strdup_printf(
                BUNDLE_FIRST_LINE "%s %s\n", json_string_value(json_object_get(answer, "replica")),
                json_string_value(json_object_get(answer, "to")));
            *seal = g_strdup(json_string_value(json_object_get(answer, "seal")));
            put(draft, head, strlen(head));
        }
        if (!put_part(draft, answer))
            code =
                cli_fault(EXIT_IO, "sync", draft->path, "cannot be written: %s", g_strerror(errno));
        more = json_is_true(json_object_get(answer, "more"));
        note_reached(after, json_object_get(answer, "reached"));
        json_decref(answer);
    }
    json_decref(after);
    return code;
}

static int begin(const Cli *cli, Draft *draft, const char *mode)
{
    draft->path = draft_path(cli);
    draft->sum = g_checksum_new(G_CHECKSUM_SHA256);
    draft->file = fopen(draft->path, mode);
    if (draft->file != NULL) return EXIT_OK;
    return cli_fault(EXIT_CANNOT_MAKE, "sync", draft->path, "%s", g_strerror(errno));
}

/* What is this replica's own, for one that is paired; NULL after a complaint with its code. Nothing is made here: a folder that was
 * mistyped stays as it is. */
static Own *load_own(const Cli *cli, int *code)
{
    g_autofree char *why = NULL;

    if (!own_made(cli->clinic)) {
        *code = cli_fault(EXIT_NO_SUCH, "sync", cli->clinic,
                          "has never been paired with another replica; osier sync pair");
        return NULL;
    }
    Own *own = own_load(cli->clinic, &why);
    if (own == NULL) *code = cli_fault(EXIT_IO, "sync", cli->clinic, "%s", why);
    return own;
}

int bundle_export(const Cli *cli, int argc, char **argv)
{
    gboolean all = FALSE;
    const GOptionEntry entries[] = {
        {.long_name = "all", .arg = G_OPTION_ARG_NONE, .arg_data = &all}, {0}};
    g_auto(Draft) draft = {0};
    g_autofree char *seal = NULL;

    if (!cli_options(&COMMAND_SYNC, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 3)
        return cli_fault(EXIT_USE, "sync export", argc > 1 ? argv[1] : "",
                         "needs a peer and a new file; try: osier sync --help");
    int code = EXIT_OK;
    g_autoptr(Own) own = load_own(cli, &code);
    if (own == NULL) return code;
    code = begin(cli, &draft, "wxe");
    if (code == EXIT_OK) code = fill(cli, &draft, argv[1], all, &seal);
    if (code != EXIT_OK) return code;
    if (!put_signature(&draft, own))
        return cli_fault(EXIT_IO, "sync", draft.path, "cannot be written or signed");
    g_autofree char *problem = seal_file(draft.path, argv[2], seal);
    if (problem != NULL) return cli_fault(EXIT_CANNOT_MAKE, "sync export", argv[2], "%s", problem);
    if (cli->json)
        cli_json(
            json_pack("{s:o, s:I}", "file", cli_path(argv[2]), "events", (json_int_t)draft.events));
    else
        printf("%s: %" G_GINT64_FORMAT " entries, sealed: only %s can read it\n", argv[2],
               draft.events, argv[1]);
    return EXIT_OK;
}

/* --- taking ------------------------------------------------------------------------------------------- */

static int hand_in(const Cli *cli, GBytes *part, const char *from, int64_t *taken)
{
    gsize length;
    const void *bytes = g_bytes_get_data(part, &length);
    g_autofree char *text = g_base64_encode(bytes, length);
    json_t *answer = NULL;
    int code = remote_call(cli, "POST", "/sync/take",
                           json_pack("{s:s, s:s}", "from", from, "parcel", text), &answer);

    *taken += json_integer_value(json_object_get(answer, "new"));
    json_decref(answer);
    return code;
}

static int take_all(const Cli *cli, Draft *draft, const char *from, int64_t *taken)
{
    int code = EXIT_OK;

    bundle_first(draft->file);
    for (GBytes *part; code == EXIT_OK && (part = bundle_next(draft->file)) != NULL;) {
        code = hand_in(cli, part, from, taken);
        g_bytes_unref(part);
    }
    return code;
}

int bundle_import(const Cli *cli, int argc, char **argv)
{
    const GOptionEntry entries[] = {{0}};
    g_auto(Draft) draft = {0};
    char from[17] = "";
    json_t *status = NULL;
    int64_t taken = 0;

    if (!cli_options(&COMMAND_SYNC, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2)
        return cli_fault(EXIT_USE, "sync import", argc > 2 ? argv[2] : "",
                         "needs one file; try: osier sync --help");
    int code = EXIT_OK;
    g_autoptr(Own) own = load_own(cli, &code);
    if (own == NULL) return code;
    code = cli_input("sync import", argv[1]);
    if (code != EXIT_OK) return code;
    code = remote_call(cli, "GET", "/sync", json_object(), &status);
    if (code != EXIT_OK) return code;
    g_autofree char *path = draft_path(cli);
    g_autofree char *problem = seal_open_file(argv[1], path, own->open);
    const char *fault = NULL;
    if (problem != NULL) {
        json_decref(status);
        return cli_fault(EXIT_DATA, "sync import", argv[1], "%s", problem);
    }
    code = begin(cli, &draft, "re");
    if (code == EXIT_OK) fault = bundle_judge(draft.file, status, from);
    json_decref(status);
    if (fault != NULL) return cli_fault(EXIT_DATA, "sync import", argv[1], "%s", fault);
    if (code == EXIT_OK) code = take_all(cli, &draft, from, &taken);
    if (code != EXIT_OK) return code;
    if (cli->json)
        cli_json(json_pack("{s:s, s:I}", "from", from, "new", (json_int_t)taken));
    else
        printf("%s: %" G_GINT64_FORMAT " entries were new\n", argv[1], taken);
    return EXIT_OK;
}
