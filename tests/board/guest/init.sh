#!/bin/sh
# The virtual board's first program: modules, devices, the host's files under a layer of its own,
# then systemd. Runs from the initial RAM disk, with busybox.
export PATH=/bin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
while read -r module parameters; do
    # shellcheck disable=SC2086 # parameters are words
    insmod "/modules/$module.ko" $parameters || echo "BOARD: no module $module"
done < /modules/order
mount -t configfs config /sys/kernel/config

# The lines of the machine, by name.
chip=/sys/kernel/config/gpio-sim/board
mkdir -p $chip/bank
echo 8 > $chip/bank/num_lines
number=0
for name in HEAT SECOND STIR LEVEL LID STOP SHAFT COOL; do
    mkdir $chip/bank/line$number
    echo $name > $chip/bank/line$number/name
    number=$((number + 1))
done
echo 1 > $chip/live
lines=/sys/devices/platform/$(cat $chip/dev_name)/$(cat $chip/bank/chip_name)

# Switches that are active when all is well: water, lid, stop button.
for number in 3 4 5; do echo pull-up > $lines/sim_gpio$number/pull; done

# Thermometers on a bus whose registers the host writes: the guard's, the bath's, the bowl's, and a
# voltage converter for a thermistor.
for bus in /sys/bus/i2c/devices/i2c-*; do
    case $(cat "$bus/name") in *stub*) break ;; esac
done
for address in 0x48 0x49 0x4a; do echo "lm75 $address" > "$bus/new_device"; done
echo "ads1115 0x4b" > "$bus/new_device"

# To the broker of the host.
ifconfig eth0 10.0.2.15 netmask 255.255.255.0 up || echo "BOARD: no network"

mount -t 9p -o trans=virtio,version=9p2000.L,msize=512000,cache=loose,ro host /host || poweroff -f
mount -t tmpfs layer /layer
mkdir /layer/upper /layer/work
mount -t overlay -o lowerdir=/host,upperdir=/layer/upper,workdir=/layer/work overlay /root || poweroff -f
rm -rf /root/etc/systemd/system/*.wants /root/usr/lib/systemd/system-generators /root/.dockerenv
cp -r /etc/. /root/etc/
ln -s "$lines" /root/etc/board-lines
for device in "$bus"/*-004b/iio:device*; do ln -s "$device" /root/etc/board-ntc; done
for probe in guard:48 bath:49 bowl:4a; do
    for file in "$bus"/*-00${probe#*:}/hwmon/hwmon*/temp1_input; do
        ln -s "$file" /root/etc/board-${probe%%:*}
    done
done
mkdir -p /root/var/lib/bainward
mount -t ext4 -o noatime /dev/vda /root/var/lib/bainward || poweroff -f
for folder in proc sys dev; do mount --move /$folder /root/$folder; done
exec switch_root /root /lib/systemd/systemd
