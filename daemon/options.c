/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/options.h"

#include "daemon/cli/cli.h"
#include "daemon/random.h"
#include "daemon/version.h"

/* Two made-up clinics that are to meet must not draw one replica's id. */
static int64_t draw_seed(void)
{
    Random *random = random_live_new();
    uint64_t seed = random_number(random, "seed");

    random_free(random);
    return (int64_t)(seed >> 1);
}

/* GLib's own has a sign that a terminal without UTF-8 cannot show. */
static char *help_text(GOptionContext *context)
{
    g_autofree char *text = g_option_context_get_help(context, TRUE, NULL);
    GString *plain = g_string_new(text);

    g_string_replace(plain, "[OPTION…]", "[OPTION ...]", 0);
    return g_string_free(plain, FALSE);
}

bool options_read(int argc, char **argv, Options *options)
{
    g_autofree char *log = NULL;
    gboolean stand_by = FALSE;
    gboolean version = FALSE, help = FALSE;
    const GOptionEntry entries[] = {
        {"clinic", 0, 0, G_OPTION_ARG_FILENAME, &options->clinic, "the clinic folder", "DIR"},
        {"clock", 0, 0, G_OPTION_ARG_STRING, &options->clock,
         "stand at a made-up instant; osier clock to T moves it", "T"},
        {"stand-by", 0, 0, G_OPTION_ARG_NONE, &stand_by,
         "on a server: wait until no other works there, then take over", NULL},
        {"speed", 0, 0, G_OPTION_ARG_DOUBLE, &options->speed,
         "with --clock: let the time run, N times as fast", "N"},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &options->seed,
         "with --clock: what chance is drawn from, for the same again", "N"},
        {"log", 0, 0, G_OPTION_ARG_STRING, &log,
         "errors, warnings, plain (the usual) or full (personal data)", "LEVEL"},
        {"help", 'h', 0, G_OPTION_ARG_NONE, &help, "print this and end", NULL},
        {"version", 0, 0, G_OPTION_ARG_NONE, &version, "print the version and end", NULL},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context =
        g_option_context_new("- keeps a clinic's sessions, messages and alerts");
    g_autoptr(GError) error = NULL;

    options->stand_by = false;
    options->seed = draw_seed();
    options->log = LOG_PLAIN;
    g_option_context_set_help_enabled(context, FALSE);
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
    if (help || version)
        options->told = help ? help_text(context) : g_strdup("osierd " OSIER_VERSION "\n");
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
    g_free(options->told);
}
