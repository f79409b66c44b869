/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/working_copy.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/files/text.h"
#include "adapters/files/tree.h"
#include "core/clinic/template.h"
#include "daemon/rehearsal/mapping.h"

/* --- addresses ------------------------------------------------------------------------------ */

static void move_url(json_t *section, const char *origin, const char *base)
{
    const char *url = json_string_value(json_object_get(section, "url"));

    if (url == NULL) return;
    g_autofree char *moved = mapping_move_url(url, origin, base);
    json_object_set_new(section, "url", json_string(moved));
}

static void redirect_texts(json_t *gateway, const char *name, const Places *places)
{
    g_autofree char *origin = g_strdup_printf("http://127.0.0.1:%d", places->gateway);
    g_autofree char *send = g_strconcat("/send/", name, NULL);
    g_autofree char *poll = g_strconcat("/poll/", name, NULL);

    move_url(json_object_get(gateway, "send"), origin, send);
    move_url(json_object_get(gateway, "poll"), origin, poll);
    json_object_del(gateway, "ask"); /* the stand-in loses nothing that it could be asked about */
}

static void redirect_mail(json_t *gateway, const Places *places)
{
    g_autofree char *url = g_strdup_printf("smtp://127.0.0.1:%d", places->mail);
    json_t *smtp = json_object_get(gateway, "smtp");

    if (json_is_object(smtp)) json_object_set_new(smtp, "url", json_string(url));
    json_t *imap = json_object_get(gateway, "imap");
    g_autofree char *box = g_strdup_printf("imap://127.0.0.1:%d/INBOX", places->mailbox);
    if (json_is_object(imap)) json_object_set_new(imap, "url", json_string(box));
}

static bool is_kind(json_t *gateway, const char *kind)
{
    return g_strcmp0(json_string_value(json_object_get(gateway, "kind")), kind) == 0;
}

static json_t *own_texts(void)
{
    return json_pack("{s:s, s:b, s:f, s:{s:s, s:{s:s, s:s, s:s}, s:{s:i, s:s}},"
                     " s:{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s}}",
                     "kind", "http-sms", "takes_key", 1, "price", 0.04, "send", "url",
                     "http://gateway.example/messages", "json", "to", "{to}", "text", "{text}",
                     "ref", "{id}", "accepted", "status", 202, "id", "/id", "poll", "url",
                     "http://gateway.example/inbox?after={cursor}", "every", "5min", "items",
                     "/messages", "id", "/id", "from", "/from", "text", "/text", "at", "/at",
                     "cursor", "/next");
}

static json_t *own_mail(void)
{
    return json_pack("{s:s, s:s, s:{s:s}, s:{s:s, s:s}}", "kind", "mail", "from",
                     "Clinic <sessions@clinic.example>", "smtp", "url", "smtp://mail.example",
                     "imap", "url", "imap://mail.example", "every", "30min");
}

static void redirect_gateways(json_t *gateways, const Places *places)
{
    const char *name;
    json_t *gateway;
    void *next;
    bool texts = false, mail = false;

    json_object_foreach_safe(gateways, next, name, gateway)
    {
        texts = texts || is_kind(gateway, "http-sms");
        mail = mail || is_kind(gateway, "mail");
        /* A program could write to real people. */
        if (is_kind(gateway, "spool") || is_kind(gateway, "program"))
            json_object_del(gateways, name);
    }
    if (!texts) json_object_set_new(gateways, "rehearsal-texts", own_texts());
    if (!mail) json_object_set_new(gateways, "rehearsal-mail", own_mail());
    json_object_foreach(gateways, name, gateway)
    {
        if (is_kind(gateway, "http-sms")) redirect_texts(gateway, name, places);
        if (is_kind(gateway, "mail")) redirect_mail(gateway, places);
    }
}

static void set_listen(json_t *root, const char *key, int port)
{
    g_autofree char *listen = g_strdup_printf("127.0.0.1:%d", port);

    json_object_set_new(root, key, json_pack("{s:s}", "listen", listen));
}

void settings_redirect(json_t *root, const Places *places)
{
    json_t *gateways = json_object_get(root, "gateways");

    if (json_is_object(gateways)) redirect_gateways(gateways, places);
    set_listen(root, "page", places->page);
    set_listen(root, "hooks", places->hooks);
}

/* --- secrets -------------------------------------------------------------------------------- */

static void add_secrets(json_t *value, GHashTable *names)
{
    const char *text = json_string_value(value);
    const char *key;
    size_t index;
    json_t *item;

    while (text != NULL) {
        g_autofree char *found = template_next(&text, NULL);
        if (found == NULL) break;
        const char *name = template_secret(found);
        if (name != NULL && secret_name_valid(name)) g_hash_table_add(names, g_strdup(name));
    }
    json_object_foreach(value, key, item)
    {
        add_secrets(item, names);
    }
    json_array_foreach(value, index, item)
    {
        add_secrets(item, names);
    }
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

GPtrArray *settings_secrets_named(json_t *root)
{
    g_autoptr(GHashTable) names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
    GHashTableIter each;
    gpointer name;

    add_secrets(root, names);
    g_hash_table_iter_init(&each, names);
    while (g_hash_table_iter_next(&each, &name, NULL))
        g_ptr_array_add(list, g_strdup(name));
    if (list->len > 1) qsort(list->pdata, list->len, sizeof list->pdata[0], by_name);
    return list;
}

/* Base64 of 32 bytes that follow from the name, for some schemes decode their secret. */
static char *dummy(const char *name)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    guint8 bytes[32];
    gsize length = sizeof bytes;

    g_checksum_update(sum, (const guchar *)"a dummy for ", -1);
    g_checksum_update(sum, (const guchar *)name, -1);
    g_checksum_get_digest(sum, bytes, &length);
    return g_base64_encode(bytes, length);
}

/* --- files ---------------------------------------------------------------------------------- */

static bool fail(GPtrArray *messages, const char *path, const char *why)
{
    g_ptr_array_add(messages, g_strdup_printf("%s: %s", path, why));
    return false;
}

static bool write_file(const char *path, const char *text, GPtrArray *messages)
{
    g_autoptr(GError) error = NULL;

    if (g_file_set_contents_full(path, text, -1, G_FILE_SET_CONTENTS_NONE, 0600, &error))
        return true;
    return fail(messages, path, error->message);
}

static char *make_room(const char *dir, const char *room, GPtrArray *messages)
{
    g_autofree char *path = g_build_filename(dir, room, NULL);

    if (g_mkdir(path, 0700) == 0 || errno == EEXIST) return g_steal_pointer(&path);
    fail(messages, path, g_strerror(errno));
    return NULL;
}

static bool copy_room(const char *folder, const char *dir, const char *room, GPtrArray *messages)
{
    g_autofree char *from = g_build_filename(folder, room, NULL);
    g_autofree char *to = make_room(dir, room, messages);
    g_autoptr(GPtrArray) files = text_list(from, ".yaml");

    for (guint i = 0; to != NULL && i < files->len; i++) {
        g_autofree char *name = g_path_get_basename(files->pdata[i]);
        g_autofree char *path = g_build_filename(to, name, NULL);
        g_autofree char *text = text_load(files->pdata[i], TREE_BYTES_MAX, NULL, messages);
        if (text == NULL || !write_file(path, text, messages)) return false;
    }
    return to != NULL;
}

static bool write_secrets(json_t *root, const char *dir, GPtrArray *messages)
{
    g_autoptr(GPtrArray) names = settings_secrets_named(root);
    g_autofree char *room = make_room(dir, "secrets", messages);

    for (guint i = 0; room != NULL && i < names->len; i++) {
        g_autofree char *path = g_build_filename(room, names->pdata[i], NULL);
        g_autofree char *secret = dummy(names->pdata[i]);
        if (!write_file(path, secret, messages)) return false;
    }
    return room != NULL;
}

bool working_copy_make(const char *folder, const char *dir, const Places *places,
                       GPtrArray *messages)
{
    g_autofree char *from = g_build_filename(folder, "clinic.yaml", NULL);
    g_autofree char *to = g_build_filename(dir, "clinic.yaml", NULL);
    g_autoptr(Tree) tree = tree_load(from, messages);

    if (tree == NULL) return false;
    json_t *root = json_deep_copy(tree_root(tree));
    settings_redirect(root, places);
    /* What JSON allows, YAML reads the same. */
    char *text = json_dumps(root, JSON_INDENT(2) | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15));
    bool made = write_file(to, text, messages) && write_secrets(root, dir, messages) &&
                copy_room(folder, dir, "programmes", messages) &&
                copy_room(folder, dir, "languages", messages);
    free(text);
    json_decref(root);
    return made;
}
