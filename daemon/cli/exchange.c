/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/exchange.h"

#include <string.h>
#include <sys/un.h>

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

int exchange_ready(const Cli *cli, CURL *curl, const char *method, const char *url,
                   const char *text, GString *bytes)
{
    g_autofree char *socket = g_build_filename(cli->clinic, "osierd.sock", NULL);

    if (strlen(socket) >= sizeof((struct sockaddr_un *)0)->sun_path)
        return cli_fault(EXIT_USE, "--clinic", cli->clinic,
                         "the path is too long for a socket; go into the folder and use "
                         "--clinic .");
    curl_easy_setopt(curl, CURLOPT_UNIX_SOCKET_PATH, socket);
    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_PATH_AS_IS, 1L); /* ".." may have been given as an id */
    curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, bytes);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    if (text != NULL) curl_easy_setopt(curl, CURLOPT_POSTFIELDS, text);
    return EXIT_OK;
}

int exchange_over(const Cli *cli, CURL *curl, CURLcode result, long *status)
{
    g_autofree char *settings = g_build_filename(cli->clinic, "clinic.yaml", NULL);

    if (result == CURLE_COULDNT_CONNECT && !g_file_test(settings, G_FILE_TEST_EXISTS))
        return cli_fault(EXIT_NO_DAEMON, "clinic", cli->clinic,
                         "there is no clinic.yaml in it; name the clinic's folder: --clinic DIR");
    if (result == CURLE_COULDNT_CONNECT)
        return cli_fault(EXIT_NO_DAEMON, "osierd", cli->clinic,
                         "is not running for this clinic folder; start it with: osierd "
                         "--clinic %s",
                         cli->clinic);
    if (result != CURLE_OK)
        return cli_fault(EXIT_IO, "osierd", cli->clinic, "%s", curl_easy_strerror(result));
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, status);
    return EXIT_OK;
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

json_t *exchange_answer(const Cli *cli, const GString *bytes, long status, int *code)
{
    json_t *answer = json_loadb(bytes->str, bytes->len, JSON_DECODE_ANY, NULL);

    *code = answer == NULL  ? cli_fault(EXIT_IO, "osierd", cli->clinic, "answered what is no JSON")
            : status != 200 ? tell_fault(answer, status)
                            : EXIT_OK;
    if (*code == EXIT_OK) return answer;
    json_decref(answer);
    return NULL;
}
