/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/remote.h"

#include "daemon/cli/exchange.h"

int remote_no_text(void)
{
    return cli_fault(EXIT_DATA, "words", "", "what was given is no valid UTF-8");
}

char *remote_id(const char *id)
{
    if (g_utf8_validate(id, -1, NULL) && strchr(id, '/') == NULL)
        return g_uri_escape_string(id, NULL, FALSE);
    cli_fault(EXIT_NO_SUCH, "id", id, "there is none of that id");
    return NULL;
}

/* The path with the body's fields as its query. */
static char *with_query(const char *path, json_t *body)
{
    GString *target = g_string_new("http://osierd");
    const char *name;
    json_t *value;
    char between = '?';

    g_string_append(target, path);
    json_object_foreach(body, name, value)
    {
        g_autofree char *text = json_is_string(value)
                                    ? g_strdup(json_string_value(value))
                                    : json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
        g_autofree char *escaped = g_uri_escape_string(text, NULL, FALSE);
        g_string_append_printf(target, "%c%s=%s", between, name, escaped);
        between = '&';
    }
    return g_string_free(target, FALSE);
}

/* One exchange; url and text (NULL: a GET) are lent. EXIT_OK with the bytes and the HTTP status. */
static int exchange(const Cli *cli, const char *method, const char *url, const char *text,
                    GString *bytes, long *status)
{
    CURL *curl = curl_easy_init();
    int code = exchange_ready(cli, curl, method, url, text, bytes);

    if (code == EXIT_OK) code = exchange_over(cli, curl, curl_easy_perform(curl), status);
    curl_easy_cleanup(curl);
    return code;
}

int remote_call(const Cli *cli, const char *method, const char *path, json_t *body, json_t **answer)
{
    *answer = NULL;
    if (body == NULL) return remote_no_text();
    bool reads = strcmp(method, "GET") == 0;
    g_autofree char *url = with_query(path, reads ? body : NULL);
    g_autofree char *text = json_dumps(body, JSON_COMPACT);
    g_autoptr(GString) bytes = g_string_new(NULL);
    long status = 0;

    json_decref(body);
    int code = exchange(cli, method, url, reads ? NULL : text, bytes, &status);
    if (code == EXIT_OK) *answer = exchange_answer(cli, bytes, status, &code);
    return code;
}

int remote_fetch(const Cli *cli, const char *path, json_t *fields, GBytes **answered)
{
    g_autofree char *url = with_query(path, fields);
    g_autoptr(GString) bytes = g_string_new(NULL);
    long status = 0;

    json_decref(fields);
    *answered = NULL;
    int code = exchange(cli, "GET", url, NULL, bytes, &status);
    if (code == EXIT_OK && status != 200) json_decref(exchange_answer(cli, bytes, status, &code));
    if (code == EXIT_OK) *answered = g_bytes_new(bytes->str, bytes->len);
    return code;
}

int remote_text(const Cli *cli, const char *path, char **text)
{
    g_autofree char *url = with_query(path, NULL);
    g_autoptr(GString) bytes = g_string_new(NULL);
    long status = 0;
    int code = exchange(cli, "GET", url, NULL, bytes, &status);

    if (code == EXIT_OK && status != 200) json_decref(exchange_answer(cli, bytes, status, &code));
    if (code == EXIT_OK) *text = g_strdup(bytes->str);
    return code;
}
