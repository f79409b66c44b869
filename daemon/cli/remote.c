/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/remote.h"

#include <curl/curl.h>
#include <string.h>
#include <sys/un.h>

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
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

/* Says what the daemon said; its exit code. */
static int tell_fault(const json_t *answer, long status)
{
    const json_t *error = json_object_get(answer, "error");
    const char *what = json_string_value(json_object_get(error, "what"));
    const char *value = json_string_value(json_object_get(error, "value"));
    const char *why = json_string_value(json_object_get(error, "why"));
    int code = (int)json_integer_value(json_object_get(error, "exit"));

    if (what == NULL || why == NULL)
        return cli_fault(EXIT_IO, "osierd", "", "answered %ld without a reason", status);
    return cli_fault(code != 0 ? code : EXIT_IO, what, value, "%s", why);
}

static int perform(CURL *curl, const char *clinic, long *status)
{
    CURLcode result = curl_easy_perform(curl);

    if (result == CURLE_COULDNT_CONNECT)
        return cli_fault(EXIT_NO_DAEMON, "osierd", clinic,
                         "is not running for this clinic folder; start it with: osierd "
                         "--clinic %s",
                         clinic);
    if (result != CURLE_OK)
        return cli_fault(EXIT_IO, "osierd", clinic, "%s", curl_easy_strerror(result));
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, status);
    return EXIT_OK;
}

/* One exchange; url and text (NULL: a GET) are lent. EXIT_OK with the bytes and the HTTP status. */
static int exchange(const Cli *cli, const char *method, const char *url, const char *text,
                    GString *bytes, long *status)
{
    g_autofree char *socket = g_build_filename(cli->clinic, "osierd.sock", NULL);

    if (strlen(socket) >= sizeof((struct sockaddr_un *)0)->sun_path)
        return cli_fault(EXIT_USE, "--clinic", cli->clinic,
                         "the path is too long for a socket; go into the folder and use "
                         "--clinic .");
    CURL *curl = curl_easy_init();
    curl_easy_setopt(curl, CURLOPT_UNIX_SOCKET_PATH, socket);
    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, bytes);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    if (text != NULL) curl_easy_setopt(curl, CURLOPT_POSTFIELDS, text);
    int code = perform(curl, cli->clinic, status);
    curl_easy_cleanup(curl);
    return code;
}

/* The document of an answer, or NULL after saying what is wrong, with the code. */
static json_t *read_answer(const Cli *cli, const GString *bytes, long status, int *code)
{
    json_t *answer = json_loadb(bytes->str, bytes->len, JSON_DECODE_ANY, NULL);

    *code = answer == NULL  ? cli_fault(EXIT_IO, "osierd", cli->clinic, "answered what is no JSON")
            : status != 200 ? tell_fault(answer, status)
                            : EXIT_OK;
    if (*code == EXIT_OK) return answer;
    json_decref(answer);
    return NULL;
}

int remote_call(const Cli *cli, const char *method, const char *path, json_t *body, json_t **answer)
{
    bool reads = strcmp(method, "GET") == 0;
    g_autofree char *url = with_query(path, reads ? body : NULL);
    g_autofree char *text = json_dumps(body, JSON_COMPACT);
    g_autoptr(GString) bytes = g_string_new(NULL);
    long status = 0;

    json_decref(body);
    *answer = NULL;
    int code = exchange(cli, method, url, reads ? NULL : text, bytes, &status);
    if (code == EXIT_OK) *answer = read_answer(cli, bytes, status, &code);
    return code;
}

int remote_text(const Cli *cli, const char *path, char **text)
{
    g_autofree char *url = with_query(path, NULL);
    g_autoptr(GString) bytes = g_string_new(NULL);
    long status = 0;
    int code = exchange(cli, "GET", url, NULL, bytes, &status);

    if (code == EXIT_OK && status != 200) json_decref(read_answer(cli, bytes, status, &code));
    if (code == EXIT_OK) *text = g_strdup(bytes->str);
    return code;
}
