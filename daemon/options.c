/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/options.h"

#include "daemon/cli/cli.h"
#include "daemon/version.h"

bool options_read(int argc, char **argv, Options *options)
{
    g_autofree char *log = NULL;
    gboolean stand_by = FALSE;
    gboolean version = FALSE;
    const GOptionEntry entries[] = {
        {"clinic", 0, 0, G_OPTION_ARG_FILENAME, &options->clinic, "the clinic folder", "DIR"},
        {"clock", 0, 0, G_OPTION_ARG_STRING, &options->clock,
         "stand at a made-up instant; osier clock to T moves it", "T"},
        {"stand-by", 0, 0, G_OPTION_ARG_NONE, &stand_by,
         "with a store on a server: wait until no other osierd works on it, then take over", NULL},
        {"speed", 0, 0, G_OPTION_ARG_DOUBLE, &options->speed,
         "with --clock: let the time run, N times as fast", "N"},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &options->seed,
         "with --clock: what chance is drawn from", "N"},
        {"log", 0, 0, G_OPTION_ARG_STRING, &log,
         "errors, warnings, plain (as without it) or full, which holds personal data", "LEVEL"},
        {"version", 0, 0, G_OPTION_ARG_NONE, &version, "print the version and end", NULL},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context =
        g_option_context_new("- keeps a clinic's sessions, messages and alerts");
    g_autoptr(GError) error = NULL;

    options->stand_by = false;
    options->seed = 1;
    options->log = LOG_PLAIN;
    g_option_context_set_summary(context, "osierd " OSIER_VERSION);
    g_option_context_add_main_entries(context, entries, NULL);
    const GOptionEntry *twice = cli_twice(entries, argc, argv);
    if (twice != NULL) {
        g_autofree char *option = g_strconcat("--", twice->long_name, NULL);
        cli_fault(EXIT_USE, "osierd", option, CLI_TWICE);
        return false;
    }
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        cli_fault(EXIT_USE, "osierd", error->message, "try: osierd --help");
        return false;
    }
    if (argc > 1) {
        cli_fault(EXIT_USE, "osierd", argv[1], "is not understood; try: osierd --help");
        return false;
    }
    if (log != NULL && !log_level_parse(log, &options->log)) {
        cli_fault(EXIT_USE, "--log", log, "is none of errors, warnings, plain, full");
        return false;
    }
    options->stand_by = stand_by != FALSE;
    options->version = version != FALSE;
    if (options->clinic == NULL)
        options->clinic =
            g_strdup(g_getenv("OSIER_CLINIC") != NULL ? g_getenv("OSIER_CLINIC") : ".");
    if (options->speed < 0 || (options->speed > 0 && options->clock == NULL)) {
        cli_fault(EXIT_USE, "--speed", "", "goes with --clock, and is above 0");
        return false;
    }
    return true;
}

void options_clear(Options *options)
{
    g_free(options->clinic);
    g_free(options->clock);
}
