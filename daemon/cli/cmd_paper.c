/* SPDX-License-Identifier: Apache-2.0 */
/* Commands that write paper: the hand-out, the summary for the file. */
#include "daemon/cli/paper.h"

#include <fcntl.h>
#include <stdio.h>

#include "daemon/cli/remote.h"

int paper_keep(const char *out, const char *data, gsize length)
{
    g_autoptr(GError) error = NULL;

    if (*out == '\0') return cli_fault(EXIT_USE, "--out", "", "is empty");
    if (g_file_test(out, G_FILE_TEST_EXISTS) && !g_file_test(out, G_FILE_TEST_IS_REGULAR))
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out, "is there already, and is no file");
    if (!g_file_set_contents_full(out, data, (gssize)length, G_FILE_SET_CONTENTS_CONSISTENT, 0600,
                                  &error))
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out, "%s", error->message);
    return EXIT_OK;
}

int paper_write(const Cli *cli, const char *path, json_t *fields, const char *out)
{
    g_autoptr(GBytes) bytes = NULL;
    int code = remote_fetch(cli, path, fields, &bytes);

    if (code != EXIT_OK) return code;
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);
    code = paper_keep(out, data, length);
    if (code != EXIT_OK) return code;
    if (cli->json)
        cli_json(json_pack("{s:o, s:I}", "file", cli_path(out), "bytes", (json_int_t)length));
    else
        printf("%s\n", out);
    return EXIT_OK;
}

/* "/clients/ID/NAME" (g_free); NULL after a complaint */
static char *client_path(const char *id, const char *name)
{
    g_autofree char *escaped = remote_id(id);

    return escaped != NULL ? g_strdup_printf("/clients/%s/%s", escaped, name) : NULL;
}

/* osier handout CLIENT [--paper a4|letter] [--large] --out FILE */
static int run_handout(const Cli *cli, int argc, char **argv)
{
    g_autofree char *paper = NULL;
    g_autofree char *out = NULL;
    gboolean large = FALSE;
    const GOptionEntry entries[] = {
        {"paper", 0, 0, G_OPTION_ARG_STRING, &paper, "", ""},
        {"large", 0, 0, G_OPTION_ARG_NONE, &large, "", ""},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "", ""},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };

    if (!cli_options(&COMMAND_HANDOUT, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2)
        return cli_fault(EXIT_USE, "handout", argc > 2 ? argv[2] : "",
                         "needs one client; try: osier handout --help");
    if (out == NULL) return cli_fault(EXIT_USE, "--out", "", "is needed: --out handout.pdf");
    g_autofree char *path = client_path(argv[1], "handout.pdf");
    if (path == NULL) return EXIT_NO_SUCH;
    json_t *fields = json_object();
    if (paper != NULL) json_object_set_new(fields, "paper", json_string(paper));
    if (large) json_object_set_new(fields, "large", json_true());
    return paper_write(cli, path, fields, out);
}

const Command COMMAND_HANDOUT = {
    .name = "handout",
    .summary = "write the sheet that a client takes home",
    .usage = "CLIENT [--paper a4|letter] [--large] --out FILE",
    .help = "  osier handout K7QF --large --out handout.pdf\n\n"
            "A PDF in the client's language: the movements of the stage with a drawing to scale, "
            "how strong, when to stop\n"
            "and whom to ring, the letters of the weekly question, how to answer. Text of 16 pt, "
            "with --large 18 pt.",
    .run = run_handout,
};

/* osier summary CLIENT [--words] [--paper a4|letter] [--out FILE] */
static int run_summary(const Cli *cli, int argc, char **argv)
{
    g_autofree char *paper = NULL;
    g_autofree char *out = NULL;
    gboolean words = FALSE;
    const GOptionEntry entries[] = {
        {"words", 0, 0, G_OPTION_ARG_NONE, &words, "", ""},
        {"paper", 0, 0, G_OPTION_ARG_STRING, &paper, "", ""},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "", ""},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    json_t *answer;

    if (!cli_options(&COMMAND_SUMMARY, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2)
        return cli_fault(EXIT_USE, "summary", argc > 2 ? argv[2] : "",
                         "needs one client; try: osier summary --help");
    if (out == NULL && !cli->json)
        return cli_fault(EXIT_USE, "--out", "", "is needed: --out summary.pdf");
    g_autofree char *path = client_path(argv[1], out != NULL ? "summary.pdf" : "summary");
    if (path == NULL) return EXIT_NO_SUCH;
    json_t *fields = json_object();
    if (words) json_object_set_new(fields, "words", json_true());
    if (paper != NULL) json_object_set_new(fields, "paper", json_string(paper));
    if (out != NULL) return paper_write(cli, path, fields, out);
    int code = remote_call(cli, "GET", path, fields, &answer);
    if (code == EXIT_OK) cli_json(answer);
    return code;
}

const Command COMMAND_SUMMARY = {
    .name = "summary",
    .summary = "write what is known of a client on two pages, for the file",
    .usage = "CLIENT [--words] [--paper a4|letter] --out FILE",
    .help = "  osier summary K7QF --words --out summary.pdf\n\n"
            "Consent, screen, stages and who confirmed them, course, measures, alerts with their "
            "outcomes. --words adds every\n"
            "message both ways, word for word. --json without --out gives it as a document.",
    .run = run_summary,
};
