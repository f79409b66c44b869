/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/manual.h"

#include <stdio.h>
#include <string.h>

#include "daemon/version.h"

/* Text as roff reads it: hyphens that can be copied, no line that looks like a request. */
static void put_text(const char *text, bool at_start)
{
    for (const char *p = text; *p != '\0'; p++) {
        if (at_start && (*p == '.' || *p == '\'')) fputs("\\&", stdout);
        if (*p == '\\')
            fputs("\\e", stdout);
        else if (*p == '-')
            fputs("\\-", stdout);
        else
            putchar(*p);
        at_start = *p == '\n';
    }
}

static void put_command(const Command *command)
{
    puts(".TP");
    printf(".B osier %s\n.br\n", command->name);
    put_text(command->usage, true);
    puts("\n.br");
    put_text(command->summary, true);
    puts("\n.nf\n.sp");
    put_text(command->help, true);
    puts("\n.fi");
}

void manual_page(const Command *const *commands)
{
    puts(
        ".TH OSIER 1 \"\" \"osier " OSIER_VERSION
        "\" \"osier\"\n.SH NAME\nosier \\- keeps the thread between a "
        "physiotherapist and the people who stretch at home\n.SH SYNOPSIS\n.B osier\n.I COMMAND\n"
        "[\\-\\-clinic DIR] [\\-\\-json] ...\n.SH DESCRIPTION\n"
        "The clinic folder is \\-\\-clinic, else $OSIER_CLINIC, else the working folder. Most "
        "commands ask the osierd\nof that folder; read, size, setup, times, init and rehearse need "
        "none, check, restore and move want it stopped.\n\\-\\-json prints one JSON document. An "
        "id may "
        "be given as any unambiguous beginning of it.\nosier \\-\\-version prints the "
        "version.\n.SH COMMANDS");
    for (size_t i = 0; commands[i] != NULL; i++)
        put_command(commands[i]);
    puts(".SH EXIT STATUS\n"
         "As in sysexits.h: 64 usage, 65 bad data, 66 no such or ambiguous id, 69 no osierd, 73 "
         "cannot create,\n74 input or output, 75 try later (also: the store is in use), 77 not "
         "allowed, 78 settings.\n.SH CAUTIONS\n"
         "Answers are not watched day and night, and osier is no emergency service and no medical "
         "device: it tells,\nwith reasons, and a clinician decides. Local codes and licensed "
         "practice come first.\n.SH SEE ALSO\n.BR osierd (8)");
}

/* --- completion --- */

/* The words of a usage that begin so. Each is printed once. */
static void put_words(const char *usage, bool options)
{
    g_auto(GStrv) words = g_regex_split_simple("[\\s|()\\[\\]=,]+", usage, 0, 0);
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);

    for (int i = 0; words[i] != NULL; i++) {
        bool option = g_str_has_prefix(words[i], "--");
        if (*words[i] == '\0' || option != options || !g_hash_table_add(seen, words[i])) continue;
        printf("%s ", words[i]);
    }
}

/* Second words stand at the start of the usage or after a bar outside of brackets. */
static void put_second_words(const char *usage)
{
    int depth = 0;
    bool start = true;

    for (const char *p = usage; *p != '\0'; p++) {
        if (*p == '[' || *p == '(') depth++;
        if (*p == ']' || *p == ')') depth--;
        if (start && g_ascii_islower(*p)) {
            size_t length = strspn(p, "abcdefghijklmnopqrstuvwxyz-");
            if (p[length] == ' ' || p[length] == '\0') printf("%.*s ", (int)length, p);
        }
        start = depth == 0 && (*p == '|' || (start && *p == ' '));
    }
}

void manual_completion(const Command *const *commands)
{
    puts("# bash completion for osier\n_osier() {\n"
         "  local word=${COMP_WORDS[COMP_CWORD]} words=\"\" options=\"--clinic --json --help\"\n"
         "  case ${COMP_WORDS[1]} in");
    for (size_t i = 0; commands[i] != NULL; i++) {
        printf("  %s) words=\"", commands[i]->name);
        put_second_words(commands[i]->usage);
        fputs("\" options=\"$options ", stdout);
        put_words(commands[i]->usage, true);
        puts("\" ;;");
    }
    fputs("  esac\n  [ $COMP_CWORD -eq 1 ] && words=\"", stdout);
    for (size_t i = 0; commands[i] != NULL; i++)
        printf("%s ", commands[i]->name);
    puts("\"\n  [[ $word == -* ]] && words=$options\n"
         "  COMPREPLY=($(compgen -W \"$words\" -- \"$word\"))\n}\n"
         "complete -o default -F _osier osier");
}
