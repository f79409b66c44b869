/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/pass.h"

#include <stdio.h>
#include <string.h>

#include "adapters/files/overlay.h"
#include "adapters/files/text.h"
#include "adapters/files/tree.h"

char *pass_find(const Cli *cli, const PassKind *kind, const char *key, bool *own)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) paths = overlay_list(kind->room, cli->clinic, messages);
    g_autofree char *folder = g_build_filename(cli->clinic, kind->room, "", NULL);

    for (guint i = 0; i < paths->len; i++) {
        g_autofree char *name = overlay_key(paths->pdata[i]);
        if (strcmp(name, key) != 0) continue;
        *own = g_str_has_prefix(paths->pdata[i], folder);
        return g_strdup(paths->pdata[i]);
    }
    return NULL;
}

static const char *state_of(const PassedHead *head)
{
    if (head->what == NULL) return "no word on where it came from";
    return head->changed ? "changed here since it came" : "as it came";
}

json_t *pass_hands(const PassedHead *head)
{
    json_t *hands = json_array();

    for (guint i = 0; i < head->from->len; i++)
        json_array_append_new(hands, json_string(head->from->pdata[i]));
    return hands;
}

static json_t *item_json(const Cli *cli, const PassKind *kind, const char *path)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *text = text_load(path, TREE_BYTES_MAX, NULL, messages);
    g_autofree char *folder = g_build_filename(cli->clinic, kind->room, "", NULL);
    g_autofree char *title = NULL;
    g_autofree char *judged = text != NULL ? kind->judge(path, &title, messages) : NULL;
    g_autofree char *key = overlay_key(path);
    const char *body = "";
    PassedHead head;

    passed_read(text != NULL ? text : "", &head, &body);
    g_autofree char *checksum = passed_checksum(body);
    json_t *item =
        json_pack("{s:s, s:s?, s:o, s:b, s:i, s:s, s:o, s:s?, s:s}", kind->word, key, "title",
                  title, "file", cli_path(path), "own", g_str_has_prefix(path, folder), "faults",
                  (int)messages->len, "checksum", checksum, "from", pass_hands(&head), "note",
                  head.note, "state", state_of(&head));
    passed_clear(&head);
    return item;
}

static void show_item(const json_t *item, const char *word)
{
    const json_t *hands = json_object_get(item, "from");
    const char *title = json_string_value(json_object_get(item, "title"));

    printf("%-24s %s%s%s\n", json_string_value(json_object_get(item, word)),
           json_is_true(json_object_get(item, "own")) ? "the clinic's own" : "came with osier",
           title != NULL ? ": " : "", title != NULL ? title : "");
    if (json_integer_value(json_object_get(item, "faults")) > 0)
        puts("  not used: has faults; osier check-config tells them");
    for (size_t i = 0; i < json_array_size(hands); i++)
        printf("  from %s\n", json_string_value(json_array_get(hands, i)));
    if (json_array_size(hands) > 0)
        printf("  %s\n", json_string_value(json_object_get(item, "state")));
}

int pass_list(const Cli *cli, const PassKind *kind)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) paths = overlay_list(kind->room, cli->clinic, messages);
    json_t *items = json_array();

    for (guint i = 0; i < paths->len; i++)
        json_array_append_new(items, item_json(cli, kind, paths->pdata[i]));
    for (size_t i = 0; !cli->json && i < json_array_size(items); i++)
        show_item(json_array_get(items, i), kind->word);
    if (cli->json)
        cli_json(items);
    else
        json_decref(items);
    return EXIT_OK;
}
