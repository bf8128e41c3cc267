package server

import (
	"context"
	"slices"
	"strings"

	"gritward/internal/civil"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// ListDevices implements ClubService.
func (s *clubService) ListDevices(ctx context.Context, request *pb.ListDevicesRequest) (*pb.ListDevicesResponse, error) {
	ids, err := names.In(callerOf(ctx).club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListDevicesResponse{}
	err = s.view(ctx, callerOf(ctx), func(tx *ledger.Tx) error {
		if _, err := tx.PeekMember(ids[1]); err != nil {
			return err
		}
		return tx.Devices(ids[1], func(record *pb.DeviceRecord) error {
			response.Devices = append(response.Devices, record.Device)
			return nil
		})
	})
	slices.SortStableFunc(response.Devices, func(a, b *pb.Device) int {
		return a.CreatedAt.AsTime().Compare(b.CreatedAt.AsTime())
	})
	return response, err
}

// dayOf is the day of a transaction in the club's zone, YYYY-MM-DD.
func dayOf(tx *ledger.Tx) (string, error) {
	_, zone, err := zoneOf(tx)
	if err != nil {
		return "", err
	}
	return tx.Now.In(zone).Format(civil.DateLayout), nil
}

// use writes down on which day a device called: once a day, so that who only reads writes no more than that. A call is not
// refused where it cannot be written; the next one tries again.
func (g *gate) use(ctx context.Context, who *caller) {
	_ = g.ledger.Update(ctx, who.club, func(tx *ledger.Tx) error {
		record, err := tx.Device(who.id(), names.Last(who.device.Name))
		if err != nil {
			return err
		}
		today, err := dayOf(tx)
		if err != nil || record.Device.LastUsedOn == today || record.Device.RevokedAt != nil {
			return err
		}
		record.Device.LastUsedOn = today
		return tx.SaveDevice(record)
	})
}

// RevokeDevice implements ClubService.
func (s *clubService) RevokeDevice(ctx context.Context, request *pb.RevokeDeviceRequest) (*pb.Device, error) {
	ids, err := names.In(callerOf(ctx).club, "name", request.Name, names.DeviceShape)
	if err != nil {
		return nil, err
	}
	who := callerOf(ctx)
	var record *pb.DeviceRecord
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if record, err = tx.Device(ids[1], ids[2]); err != nil {
			return err
		}
		if record.Device.RevokedAt == nil {
			record.Device.RevokedAt = tx.Stamp()
		}
		if err := tx.SaveDevice(record); err != nil {
			return err
		}
		if err := withdrawOwnDevices(tx, names.Member(tx.Club, ids[1])); err != nil {
			return err
		}
		return tx.Append(audit(who, "ClubService/RevokeDevice", request.Name, "shut a device out"))
	})
	if err != nil {
		return nil, err
	}
	return record.Device, nil
}

func joined(words []string) string { return strings.Join(words, ", ") }
